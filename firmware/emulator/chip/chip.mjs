// The chip: the emulator's RP2040 with the image in its flash, its pins and buses wired to the parts, its resets, and
// exact accounts of where its cycles go.

import { BasePeripheral, RP2040 } from 'rp2040js';
import { UsbHost } from './usb.mjs';
import { Ask } from './wire.mjs';

export const Pin = { sda: 4, scl: 5, ready: 6, pixel_start: 7, pixel_clock: 8, laser_enable: 10, buzzer: 12, lamp: 13, button: 14, tilt_select: 17, pixels: 26 };
export const Cause = { power: 0, line: 1, watchdog: 2, forced: 3 };

const FLASH = 0x10000000;
const RAM = 0x20000000;
const RAM_TOP = 0x20040000;
const PAINT = 0xa5;
// The line of pixels: how many, and the clock of a start pulse after which they gather light again (`params.toml` of the
// body: 18 for the other family).
const PIXELS = 256;
const INTEGRATION_CLOCK = 1;
// The converter's input that the line is on, and what it reads where nothing drives it.
const LINE_INPUT = Pin.pixels - 26;
const OPEN = 0;
const READY_PULSE_NS = 8_000;
const FRAME_GAP_NS = 10_000;
const I2C_INTR_MASK = 0x30;
const LOADER_TAG = 'U'.charCodeAt(0) | ('B'.charCodeAt(0) << 8);

// A boot ROM of two functions, for the one request that the image makes of it: the table look-up (0x50), which answers
// with the other (0x60), which is where a real board would become a USB drive. `bkpt` tells the harness.
const ROM = [
  [0x14, 0x0040], [0x16, 0x0040], [0x18, 0x0051],
  [0x50, 0xbe01], [0x52, 0x2061], [0x54, 0x4770],
  [0x60, 0xbe02], [0x62, 0xe7fe],
];

/** Why the chip was reset: the register that the image reads. */
class ChipReset extends BasePeripheral {
  constructor(chip, cause) {
    super(chip, 'VREG_AND_CHIP_RESET');
    // HAD_POR is bit 8, HAD_RUN bit 16 (RP2040 data sheet, 2.8.x, from memory); they outlive a watchdog's reset.
    this.flags = cause === Cause.line ? 1 << 16 : 1 << 8;
  }
  readUint32(offset) {
    return offset === 8 ? this.flags : 0;
  }
  writeUint32() {}
}

export class Chip {
  constructor(wire, flash) {
    this.wire = wire;
    this.flash = flash;
    this.epochUs = 0;
    this.stuck = false;
    this.pressed = false;
    this.open = false;
    this.reading = true;
    this.figures = { busy: 0, waits: 0, asleep: 0, services: 0, latencyNs: 0, worstLatencyNs: 0 };
    this.loader = null;
    this.resets = 0;
    this.#power(Cause.power, null);
  }

  /** The world's time, microseconds, not rounded. */
  get nowUs() {
    return this.epochUs + this.clock.nanos / 1000;
  }

  get wholeUs() {
    return Math.floor(this.nowUs);
  }

  // A reset is a new chip. What a watchdog's reset keeps on the real one is carried over: memory and scratch.
  #power(cause, before) {
    const chip = new RP2040();
    this.clock = chip.clock;
    this.rp = chip;
    this.cycleNs = 1e9 / chip.clkSys;
    chip.addClockListener((hz) => { this.cycleNs = 1e9 / hz; });
    chip.logger = { debug() {}, info() {}, warn: (name, text) => this.note(`${name}: ${text}`), error: (name, text) => this.note(`${name}: ${text}`) };
    chip.flash.fill(0xff);
    chip.flash.set(this.flash);
    chip.sram.fill(PAINT);
    this.powered = before ? before.powered : cause;
    chip.peripherals[0x40064] = new ChipReset(chip, this.powered);
    this.#quiet(0x40060, 'ROSC');
    this.#quiet(0x40018, 'IO_QSPI');
    const dog = chip.peripherals[0x40058];
    if (before) {
      chip.sram.set(before.sram);
      dog.scratchData.set(before.scratch);
      dog.reason = cause === Cause.forced ? 2 : 1;
    }
    dog.onWatchdogTrigger = () => {
      // Left running, its alarm would go off again in the same moment, for ever.
      dog.timer.enable = false;
      this.restartAs = dog.reason === 2 ? Cause.forced : Cause.watchdog;
      this.halt = true;
    };
    for (const [address, half] of ROM) {
      const word = address >> 2;
      const shift = (address & 2) * 8;
      chip.bootrom[word] = (chip.bootrom[word] & ~(0xffff << shift)) | (half << shift);
    }
    chip.onBreak = (code) => this.#rom(code);
    const { core } = chip;
    core.VTOR = FLASH + 0x100;
    core.SP = chip.readUint32(FLASH + 0x100);
    core.PC = chip.readUint32(FLASH + 0x104) & ~1;
    this.restartAs = null;
    this.halt = false;
    this.lost = false;
    this.i2cBusy = false;
    this.spiBusy = false;
    this.gapUntilNs = 0;
    this.edgeAtNs = null;
    this.#wirePins();
    this.#wirePixels();
    this.#wireI2c();
    this.#wireSpi();
    this.usb = new UsbHost(chip.usbCtrl, this.clock, (bytes) => this.wire.send(Ask.usbReceived, 0, 0, this.wholeUs, Buffer.from(bytes)));
    this.usb.open = this.open;
    this.usb.reading = this.reading;
    this.applyPins();
    this.stopAlarm = this.clock.createAlarm(() => { this.halt = true; });
    this.resets += 1;
  }

  #quiet(base, name) {
    const silent = new BasePeripheral(this.rp, name);
    silent.readUint32 = () => 0;
    silent.writeUint32 = () => {};
    this.rp.peripherals[base] = silent;
  }

  note(text) {
    this.wire.send(Ask.note, 0, 0, this.wholeUs, Buffer.from(text));
  }

  /** A reset from outside: power that went and came, or the reset line. */
  reset(cause) {
    const epoch = this.nowUs;
    this.#power(cause, null);
    this.epochUs = epoch;
  }

  #watchdogReset() {
    const epoch = this.nowUs;
    const { sram, peripherals } = this.rp;
    this.#power(this.restartAs, { sram, scratch: peripherals[0x40058].scratchData, powered: this.powered });
    this.epochUs = epoch;
  }

  #rom(code) {
    if (code === 1) {
      this.tag = this.rp.core.registers[1] & 0xffff;
    } else if (code === 2 && this.tag === LOADER_TAG) {
      this.loader = this.wholeUs;
      this.lost = true;
      this.halt = true;
    }
  }

  // Pins

  #wirePins() {
    const { gpio } = this.rp;
    this.readyLow = false;
    this.nextEdge = this.clock.createAlarm(() => this.#ready(this.wire.ask(Ask.look, 0, 0, this.wholeUs)));
    this.endOfPulse = this.clock.createAlarm(() => this.#ready(this.wire.ask(Ask.look, 0, 0, this.wholeUs)));
    gpio[Pin.ready].setInputValue(true);
    this.selected = false;
    gpio[Pin.tilt_select].addListener(() => {
      const selected = gpio[Pin.tilt_select].outputEnable && !gpio[Pin.tilt_select].outputValue;
      if (selected !== this.selected) {
        this.selected = selected;
        // Between frames the inclinometer wants its select line high for 10 us; the image waits for that awake.
        if (!selected) this.gapUntilNs = this.clock.nanos + FRAME_GAP_NS;
        this.wire.ask(Ask.spiSelect, selected ? 1 : 0, 0, this.wholeUs);
      }
    });
  }

  // The line: a clock with the start pulse high holds what was gathered and brings out the first pixel, each further one
  // the next; the owner is asked once for a whole line. A conversion has to lie between two edges, and a line has to be
  // clocked through before the next start: either is noted, as the numbers alone would not show it.
  #wirePixels() {
    const { clock } = this;
    const { gpio, adc } = this.rp;
    let pixel = -1;
    let clocks = PIXELS + 1;
    let since = clock.nanos;
    let held = null;
    let sampled = -1;
    const edge = () => {
      if (gpio[Pin.pixel_start].outputValue) {
        if (clocks < PIXELS + 1) this.note(`pixels: started after ${clocks} clocks`);
        held = { since, until: clock.nanos, scan: null };
        pixel = 0;
        clocks = 1;
      } else {
        pixel += 1;
        clocks += 1;
        if (clocks === INTEGRATION_CLOCK + 1) since = clock.nanos;
      }
    };
    let high = false;
    gpio[Pin.pixel_clock].addListener(() => {
      const now = gpio[Pin.pixel_clock].outputEnable && gpio[Pin.pixel_clock].outputValue;
      if (now && !high) edge();
      high = now;
    });
    // What nobody converts nobody is asked for: a flush costs no question.
    const volts = () => {
      if (!held || pixel < 0 || pixel >= PIXELS) return OPEN;
      held.scan ??= this.wire.askScan(this.wholeUs, this.epochUs + held.since / 1000, this.epochUs + held.until / 1000);
      return held.scan.readUInt16LE(2 * pixel);
    };
    const read = adc.onADCRead;
    adc.onADCRead = (channel) => {
      sampled = pixel;
      adc.channelValues[channel] = channel === LINE_INPUT ? volts() : OPEN;
      read(channel);
    };
    const complete = adc.completeADCRead.bind(adc);
    adc.completeADCRead = (value, error) => {
      if (pixel !== sampled) this.note(`pixels: a conversion from pixel ${sampled} to ${pixel}`);
      complete(value, error);
    };
  }

  applyPins() {
    const { gpio } = this.rp;
    const set = (pin, level) => { if (gpio[pin].rawInputValue !== level) gpio[pin].setInputValue(level); };
    set(Pin.button, !this.pressed);
    set(Pin.sda, !this.stuck);
    set(Pin.scl, !this.stuck);
    if (!this.stuck && this.pendingStart) {
      this.pendingStart = false;
      this.rp.i2c[0].completeStart();
    }
  }

  // Every answer tells the ready line's level and when the running conversion ends.
  #ready(answer) {
    const low = answer[2] === 0;
    if (low !== this.readyLow) {
      this.readyLow = low;
      this.rp.gpio[Pin.ready].setInputValue(!low);
      if (low) {
        this.edgeAtNs = this.clock.nanos;
        this.endOfPulse.schedule(READY_PULSE_NS);
      }
    }
    const endsUs = answer.readUInt32LE(8) + answer.readUInt32LE(12) * 0x100000000;
    if (endsUs === 0) this.nextEdge.cancel();
    else this.nextEdge.schedule(Math.max(0, (endsUs - this.nowUs) * 1000));
    return answer[1];
  }

  // I2C: every bit takes its time.

  #wireI2c() {
    const i2c = this.rp.i2c[0];
    // The model has interrupts and no way to ask for them: its mask register takes no writes.
    const write = i2c.writeUint32.bind(i2c);
    i2c.writeUint32 = (offset, value) => {
      if (offset !== I2C_INTR_MASK) return write(offset, value);
      i2c.intEnable = value;
      i2c.checkInterrupts();
    };
    const alarm = this.clock.createAlarm(() => this.i2cThen());
    this.pendingStart = false;
    // The counts as the controller makes a clock of them (RP2040 data sheet, 4.3.14.1, from memory).
    const bitNs = () => ((i2c.fsClockLowPeriod + 1 + i2c.fsClockHighPeriod + 7 + i2c.spikelen) / this.rp.clkSys) * 1e9;
    const after = (bits, then) => {
      this.i2cThen = then;
      alarm.schedule(bits * bitNs());
    };
    const ask = (kind, a, b) => this.#ready(this.wire.ask(kind, a, b, this.wholeUs));
    i2c.onStart = () => {
      this.i2cBusy = true;
      if (this.edgeAtNs !== null) {
        const latency = this.clock.nanos - this.edgeAtNs;
        this.edgeAtNs = null;
        this.figures.services += 1;
        this.figures.latencyNs += latency;
        this.figures.worstLatencyNs = Math.max(this.figures.worstLatencyNs, latency);
      }
      if (this.stuck) {
        this.pendingStart = true;
        return;
      }
      after(1, () => i2c.completeStart());
    };
    i2c.onConnect = (address, mode) => after(9, () => i2c.completeConnect(ask(Ask.i2cStart, address, mode) === 1));
    i2c.onWriteByte = (byte) => after(9, () => i2c.completeWrite(ask(Ask.i2cWrite, byte, 0) === 1));
    i2c.onReadByte = () => after(9, () => i2c.completeRead(ask(Ask.i2cRead, 0, 0)));
    i2c.onStop = () => after(1, () => {
      this.i2cBusy = false;
      ask(Ask.i2cStop, 0, 0);
      i2c.completeStop();
    });
  }

  #wireSpi() {
    const spi = this.rp.spi[0];
    const alarm = this.clock.createAlarm(() => this.spiThen());
    spi.onTransmit = (byte) => {
      this.spiBusy = true;
      this.spiThen = () => {
        this.spiBusy = false;
        spi.completeTransmit(this.wire.ask(Ask.spiExchange, byte, 0, this.wholeUs)[1]);
      };
      alarm.schedule((8 / spi.clockFrequency) * 1e9);
    };
  }

  // Running

  /** Runs until the world's time. */
  runUntil(untilUs) {
    for (;;) {
      const leftNs = (untilUs - this.nowUs) * 1000;
      if (leftNs <= 0) return;
      this.halt = false;
      this.stopAlarm.schedule(leftNs);
      this.#run();
      this.stopAlarm.cancel();
      if (this.restartAs !== null) {
        this.#watchdogReset();
      } else if (this.lost) {
        // In the boot loader, or hung past help: time goes on without it.
        this.epochUs = untilUs - this.clock.nanos / 1000;
        return;
      }
    }
  }

  #run() {
    const { clock, figures } = this;
    const { core } = this.rp;
    while (!this.halt) {
      if (core.waiting) {
        const skip = clock.nanosToNextAlarm;
        if (this.i2cBusy || this.spiBusy) figures.waits += skip;
        else figures.asleep += skip;
        clock.tick(skip);
      } else {
        const spent = core.executeInstruction() * this.cycleNs;
        if (this.spiBusy || clock.nanos < this.gapUntilNs) figures.waits += spent;
        else figures.busy += spent;
        clock.tick(spent);
      }
    }
  }

  /** Puts the core into an endless loop. */
  hang() {
    this.jump(RAM_TOP - 0x100, [0xe7fe]);
  }

  /** Sends the core somewhere, with code put there if any is given. */
  jump(address, code = []) {
    code.forEach((half, index) => this.rp.writeUint16(address + 2 * index, half));
    this.rp.core.PC = address & ~1;
    this.rp.core.waiting = false;
  }

  /** The deepest stack since power came: what is left of the paint under the top of memory. */
  deepestStack() {
    const { sram } = this.rp;
    const top = RAM_TOP - RAM;
    let floor = top;
    // A gap in the stack (a buffer never written) is no end of it: 4 KB of paint are.
    for (let at = top - 1, paint = 0; at >= 0 && paint < 4096; at -= 1) {
      if (sram[at] === PAINT) paint += 1;
      else { paint = 0; floor = at; }
    }
    return top - floor;
  }

  /** What the buzzer's pin does, hertz; 0 is silence. */
  buzzerHz() {
    const slice = this.rp.pwm.channels[6];
    const running = slice.csr & 1;
    const duty = slice.cc & 0xffff;
    if (!running || duty === 0) return 0;
    return Math.round(this.rp.clkSys / (slice.div / 16) / (slice.top + 1));
  }

  /** The laser's enable pin is driven high. */
  laserOn() {
    const pin = this.rp.gpio[Pin.laser_enable];
    return pin.outputEnable && pin.outputValue;
  }

  lampLit() {
    const pin = this.rp.gpio[Pin.lamp];
    return pin.outputEnable && pin.outputValue;
  }
}
