// What stands on a terminal, as a person reads it: a screen of characters, and the number in large digits on it.

import { readFileSync } from 'node:fs';
import { join } from 'node:path';

export const ROWS = 24;
export const COLUMNS = 80;

export class Terminal {
  constructor() {
    this.cells = Array.from({ length: ROWS }, () => Array(COLUMNS).fill(' '));
    this.row = 0;
    this.column = 0;
    this.rest = '';
  }

  // What a program writes: it moves, erases, and writes; colours do not matter here.
  write(text) {
    const all = this.rest + text;
    // A sequence that is not whole yet waits for the rest of it.
    const cut = /\x1b(\[[?0-9;]*)?$/.exec(all);
    this.rest = cut ? cut[0] : '';
    for (const [, steps, does, letter] of (cut ? all.slice(0, cut.index) : all).matchAll(/\x1b\[([?0-9;]*)([A-Za-z])|\x1b.|([^\x1b])/gsu)) {
      if (does) this.obey(does, steps.split(';').map(Number));
      else if (letter) this.put(letter);
    }
  }

  obey(does, [first = 0, second = 0]) {
    if (does === 'H') [this.row, this.column] = [Math.max(first, 1) - 1, Math.max(second, 1) - 1];
    if (does === 'J') this.cells.forEach((row) => row.fill(' '));
    if (does === 'K') this.cells[this.row]?.fill(' ', this.column);
  }

  put(letter) {
    if (letter === '\r') this.column = 0;
    else if (letter === '\n') this.row = Math.min(this.row + 1, ROWS - 1);
    else if (this.row < ROWS && this.column < COLUMNS) {
      this.cells[this.row][this.column] = letter;
      this.column += 1;
    }
  }

  // The number that stands there; null where it is said that there is none; undefined while neither
  // stands there whole.
  number() {
    const hatched = this.cells.some((row) => row.includes('░'));
    return hatched ? null : digits(this.cells);
  }
}

// A character's quarters, as in the program's face: upper left, upper right, lower left, lower right.
const QUARTERS = ' ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█';
const HIGH = 5;
// A dot of the number is so many half characters high; headlines are smaller.
const DOTS = [6, 5, 4, 3];

const FACE = new Map(
  [...readFileSync(join(process.env.SOURCES, '../../cli/src/console/screen/face.rs'), 'utf8').matchAll(/'([0-9.])' => \[([^\]]*)\]/g)]
    .map(([, letter, rows]) => [letter, [...rows.matchAll(/"([^"]*)"/g)].map(([, row]) => row)]),
);

function digits(cells) {
  const filled = (y, x) => {
    const quarters = QUARTERS.indexOf(cells[y >> 1]?.[x >> 1] ?? ' ');
    return quarters > 0 && (quarters & (1 << ((y & 1) * 2 + (x & 1)))) !== 0;
  };
  for (const down of DOTS) {
    for (let across = 2 * down; across >= down; across -= 1) {
      for (let top = 0; top + HIGH * down <= 2 * ROWS; top += 1) {
        const dot = (row, column) => filled(top + row * down + (down >> 1), column * across + (across >> 1));
        const said = text(dot, Math.floor((2 * COLUMNS) / across));
        if (/^\d+\.\d+$/.test(said)) return Number(said);
      }
    }
  }
  return undefined;
}

// The letters that these dots are, from the left; empty where they are none.
function text(dot, wide) {
  const is = (glyph, from) => glyph.every((row, y) => [...`${row} `].every((ink, x) => dot(y, from + x) === (ink === '#')));
  const bare = (from) => Array.from({ length: HIGH }, (_, y) => y).every((y) => !dot(y, from));
  let said = '';
  for (let from = 0; from < wide;) {
    const found = [...FACE].find(([, glyph]) => is(glyph, from));
    if (!found) return said && bare(from) ? said : '';
    said += found[0];
    from += found[1][0].length + 1;
  }
  return said;
}
