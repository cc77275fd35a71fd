// The pipe to the process that owns the parts. Both sides speak in messages of 16 bytes, some with a payload:
//   u8 kind, u8 a, u8 b, u8 c, u32 length of the payload, u64 time in microseconds; little-endian.
// The owner commands (`run until ...`); while a command is carried out this side asks (`a byte on I2C`) and waits for
// the answer; at its end it says `done`. So there is one order of events, the same in every run.

import { readSync, writeSync } from 'node:fs';

const HEADER = 16;

export const Command = { run: 1, usbSend: 2, usbOpen: 3, restart: 4, hang: 5, jump: 6, peek: 7, figures: 8, stop: 9, usbSuspend: 10 };
export const Ask = {
  i2cStart: 1, i2cWrite: 2, i2cRead: 3, i2cStop: 4, spiSelect: 5, spiExchange: 6, look: 7, usbReceived: 8, done: 9, note: 10, scan: 11,
};

export class Wire {
  constructor(input = 0, output = 1) {
    this.input = input;
    this.output = output;
    this.header = Buffer.alloc(HEADER);
    this.answer = Buffer.alloc(HEADER);
  }

  #readAll(buffer) {
    let have = 0;
    while (have < buffer.length) {
      let got = 0;
      try {
        got = readSync(this.input, buffer, have, buffer.length - have, null);
      } catch (error) {
        if (error.code === 'EAGAIN') continue;
        throw error;
      }
      if (got === 0) process.exit(0);
      have += got;
    }
    return buffer;
  }

  #writeAll(buffer) {
    let sent = 0;
    while (sent < buffer.length) {
      try {
        sent += writeSync(this.output, buffer, sent);
      } catch (error) {
        if (error.code !== 'EAGAIN') throw error;
      }
    }
  }

  /** Asks the owner; its answer's fields. */
  ask(kind, a, b, atUs) {
    this.send(kind, a, b, atUs);
    const answer = this.#readAll(this.answer);
    return answer;
  }

  /** Asks the owner for the line's codes after an exposure from one time to another, microseconds. */
  askScan(atUs, fromUs, toUs) {
    const times = Buffer.alloc(16);
    times.writeDoubleLE(fromUs, 0);
    times.writeDoubleLE(toUs, 8);
    this.send(Ask.scan, 0, 0, atUs, times);
    this.#readAll(this.answer);
    return this.#readAll(Buffer.alloc(512));
  }

  /** Says something that has no answer. */
  send(kind, a, b, atUs, payload) {
    const { header } = this;
    header[0] = kind;
    header[1] = a;
    header[2] = b;
    header[3] = 0;
    header.writeUInt32LE(payload ? payload.length : 0, 4);
    header.writeUInt32LE(atUs % 0x100000000, 8);
    header.writeUInt32LE(Math.floor(atUs / 0x100000000), 12);
    this.#writeAll(payload ? Buffer.concat([header, payload]) : header);
  }

  /** The next command. */
  command() {
    const header = this.#readAll(Buffer.alloc(HEADER));
    const payload = this.#readAll(Buffer.alloc(header.readUInt32LE(4)));
    return { kind: header[0], a: header[1], b: header[2], c: header[3], atUs: time(header), payload };
  }
}

/** A message's time. */
export function time(header) {
  return header.readUInt32LE(8) + header.readUInt32LE(12) * 0x100000000;
}
