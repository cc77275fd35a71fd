// Runs a flash image (UF2) as its owner at the other end of the pipe commands.
//   node main.mjs IMAGE.uf2

import { readFileSync } from 'node:fs';
import { Chip, Cause } from './chip.mjs';
import { Ask, Command, Wire } from './wire.mjs';

/** The flash contents of a UF2 file (the format: microsoft/uf2, README). */
function flashOf(file) {
  const flash = new Uint8Array(2 * 1024 * 1024).fill(0xff);
  for (let at = 0; at + 512 <= file.length; at += 512) {
    const word = (offset) => file.readUInt32LE(at + offset);
    if (word(0) !== 0x0a324655 || word(4) !== 0x9e5d5157 || word(508) !== 0x0ab16f30) throw new Error(`no UF2 block at byte ${at}`);
    const target = word(12) - 0x10000000;
    const size = word(16);
    if (target < 0 || size > 476 || target + size > flash.length) throw new Error(`a block outside the flash at byte ${at}`);
    flash.set(file.subarray(at + 32, at + 32 + size), target);
  }
  return flash;
}

const wire = new Wire();
const chip = new Chip(wire, flashOf(readFileSync(process.argv[2])));

function flags(bits) {
  chip.stuck = (bits & 1) !== 0;
  chip.pressed = (bits & 2) !== 0;
  chip.applyPins();
}

function figures() {
  const { figures: f, rp, usb } = chip;
  return Buffer.from(JSON.stringify({
    ...f,
    clock_hz: rp.clkSys,
    deepest_stack: chip.deepestStack(),
    resets: chip.resets,
    lamp: chip.lampLit(),
    laser: chip.laserOn(),
    buzzer_hz: chip.buzzerHz(),
    loader_us: chip.loader,
    usb: { ...usb.identity, configured: usb.configured, queued: usb.queued, forced_j: usb.forcedJ },
  }));
}

for (;;) {
  const command = wire.command();
  switch (command.kind) {
    case Command.run:
      flags(command.a);
      chip.runUntil(command.atUs);
      break;
    case Command.usbSend:
      chip.usb.send(command.payload);
      break;
    case Command.usbOpen:
      chip.open = (command.a & 1) !== 0;
      chip.reading = (command.a & 2) === 0;
      chip.usb.setOpen(chip.open, chip.reading);
      break;
    case Command.usbSuspend:
      chip.usb.suspend((command.a & 1) !== 0);
      break;
    case Command.restart:
      chip.reset(command.a === 1 ? Cause.line : Cause.power);
      chip.loader = null;
      break;
    case Command.hang:
      chip.hang();
      break;
    case Command.jump:
      chip.jump(command.atUs);
      break;
    case Command.figures:
      wire.send(Ask.done, 0, 0, chip.wholeUs, figures());
      continue;
    case Command.stop:
      process.exit(0);
  }
  wire.send(Ask.done, chip.resets & 255, 0, chip.wholeUs);
}
