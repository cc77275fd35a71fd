// What shows whether the image is whole and true: a frame with a letter in each corner, two lines
// to tape; and the picture that the tape wants to square it.

import { label, svg } from './drawn.js';
import { Typed } from './walk.js';

// The lines are 80 % of the image's edges long.
export const SHARE = 0.8;

function length(mm, units) {
  return units === 'in' ? `${(mm / 25.4).toFixed(2)} in` : `${mm.toFixed(0)} mm`;
}

export function drawFrame(image, units, keys) {
  const typedIn = units === 'in' ? 'inch' : 'mm';
  const { width_mm: width, height_mm: height } = image;
  const half = width / 2;
  const group = svg('g', { id: 'frame' });
  group.append(svg('rect', { class: 'frame', x: -half, y: 0, width, height }));
  for (const [letter, x, y] of [['A', -half, 0], ['B', half, 0], ['C', half, height], ['D', -half, height]]) {
    group.append(svg('path', { class: 'frame', d: `M${x} ${y + (y ? -90 : 90)}V${y}H${x + (x > 0 ? -90 : 90)}` }));
    group.append(label(letter, x + (x > 0 ? -60 : 60), y ? y - 30 : 92, 90));
  }
  const across = [-half * SHARE, half * SHARE];
  const down = [height * (1 - SHARE) / 2, height * (1 + SHARE) / 2];
  const middle = height * 0.5;
  group.append(svg('path', { class: 'tape', d: `M${across[0]} ${middle}H${across[1]}M${across[0]} ${middle - 30}v60M${across[1]} ${middle - 30}v60` }));
  group.append(svg('path', { class: 'tape', d: `M0 ${down[0]}V${down[1]}M-30 ${down[0]}h60M-30 ${down[1]}h60` }));
  group.append(label(`tape this line: ${length(width * SHARE, units)} ?`, -half * 0.42, middle - 26, 40));
  group.append(svg('text', { x: 30, y: down[0] + 70, 'font-size': 40 }, `and this: ${length(height * SHARE, units)} ?`));
  keys.says(typedIn).forEach((line, index) => {
    group.append(label(line, half * 0.42, middle + 90 + index * 56, 44, { class: 'to-do' }));
  });
  return group;
}

// Corners, middles and diagonals, where `square` wants the tape.
export function drawTape(image) {
  const { width_mm: width, height_mm: height } = image;
  const half = width / 2;
  const group = svg('g', { id: 'tape' });
  group.append(svg('path', { class: 'line', d: `M${-half} 0L${half} ${height}M${half} 0L${-half} ${height}` }));
  const places = [
    ['top left', -half, 0], ['top', 0, 0], ['top right', half, 0],
    ['left', -half, height / 2], ['middle', 0, height / 2], ['right', half, height / 2],
    ['bottom left', -half, height], ['bottom', 0, height], ['bottom right', half, height],
  ];
  for (const [name, x, y] of places) {
    group.append(svg('path', { class: 'tape', d: `M${x - 60} ${y}H${x + 60}M${x} ${y - 60}V${y + 60}` }));
    const inX = x === 0 ? 0 : x > 0 ? -150 : 150;
    group.append(label(name, x + inX, y === 0 ? 110 : y === height ? height - 150 : y - 40, 40));
  }
  group.append(svg('rect', { class: 'frame', x: -half, y: 0, width, height }));
  return group;
}

// The answers by keyboard, one after another: whole? then the two lines, in the units that are shown.
export class FrameKeys {
  constructor(done) {
    this.done = done;
    this.begin();
  }

  begin() {
    this.step = 'whole';
    this.typed = new Typed();
    this.over = false;
    this.frame = {};
  }

  says(units) {
    const typed = `${this.typed.says(units)}   enter: keep   -: not taped`;
    return {
      whole: ['Are all four letters whole?', 'y: yes   n: no'],
      across: ['The line across, taped:', typed],
      down: ['The line down, taped:', typed],
    }[this.step] ?? [];
  }

  // Whether the key was meant for this.
  key(key, units) {
    if (this.step === 'whole') {
      if (key !== 'y' && key !== 'n') return false;
      this.frame.whole = key === 'y';
      this.step = 'across';
      return true;
    }
    if (this.typed.key(key, units)) return true;
    if (key === '-') {
      this.typed.text = '';
      this.next('');
    } else if (key === 'enter' && this.typed.text.trim()) this.next(this.typed.taken(units));
    else return key !== 'Escape';
    return true;
  }

  next(taped) {
    if (taped) this.frame[this.step] = taped;
    if (this.step === 'across') this.step = 'down';
    else {
      this.over = true;
      this.done(this.frame);
    }
  }
}
