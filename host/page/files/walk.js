// Without a head: points that light up one after another, lengths that the tape wants.

import { keep, label, svg } from './drawn.js';

// Work that no head takes part in.
export function withoutHead(state) {
  return state.lengths.length > 0 || state.marks.length > 0;
}

// The marks of a set-out. What lies beyond the image stands at its edge, with an arrow and how far.
export function drawMarks(marks, image, foot) {
  const [half, tall] = [image.width_mm / 2, image.height_mm];
  const group = svg('g', { id: 'marks' });
  for (const { name, at: [x, up], now, done } of marks) {
    const y = -up;
    const [inX, inY] = [keep(x, -half, half), keep(y, 0, tall)];
    const beyond = Math.hypot(x - inX, y - inY);
    const own = now ? 'now' : done ? 'done' : 'waits';
    const mark = svg('g', { class: `point ${own}`, 'data-name': name });
    const arm = now ? 70 : 30;
    if (beyond < 1) {
      mark.append(svg('path', { class: 'cross', d: `M${inX - arm} ${inY}H${inX + arm}M${inX} ${inY - arm}V${inY + arm}` }));
      if (now) mark.append(svg('circle', { class: 'cross calls', cx: inX, cy: inY, r: 46 }));
    } else {
      const [dx, dy] = [(x - inX) / beyond, (y - inY) / beyond];
      const [fromX, fromY] = [inX - dx * 110, inY - dy * 110];
      mark.append(svg('path', { class: 'cross', d: `M${fromX} ${fromY}L${inX} ${inY}M${inX - dx * 34 + dy * 24} ${inY - dy * 34 - dx * 24}L${inX} ${inY}L${inX - dx * 34 - dy * 24} ${inY - dy * 34 + dx * 24}` }));
    }
    // Only what is to be marked now, and what is marked, is written in: marks stand close together.
    if (now || done) {
      const says = now ? name : '✓';
      const inward = y > tall / 2 ? -1 : 1;
      const textX = keep(now ? inX : inX + 50, -half + (now ? 260 : 60), half - (now ? 260 : 60));
      // Above the foot, where that reaches so far.
      const besideFoot = textX + 280 < foot.left || textX - 280 > foot.right;
      const low = now && !besideFoot ? foot.top - 24 : tall - 20;
      mark.append(label(says, textX, keep(inY + inward * (now ? 180 : 60), 60, low), now ? 52 : 34, { class: now ? 'to-do' : 'soft' }));
    }
    group.append(mark);
  }
  return group;
}

// The six lengths: the one to tape now lit, those that are taped with what they are.
export function drawLengths(lengths, image, typed, foot) {
  const [half, tall] = [image.width_mm / 2, image.height_mm];
  const group = svg('g', { id: 'lengths' });
  const sorted = [...lengths].sort((a, b) => Number(a.now) - Number(b.now));
  for (const { name, from, to, taped, now } of sorted) {
    const [a, b] = [from, to].map(([x, up]) => [x, -up]);
    const own = now ? 'now' : taped ? 'done' : 'waits';
    const line = svg('g', { class: `length ${own}`, 'data-name': name });
    line.append(svg('path', { class: 'span', d: `M${a}L${b}` }));
    if (now) for (const [x, y] of [a, b]) line.append(svg('circle', { class: 'span calls', cx: x, cy: y, r: 60 }));
    // Two fifths along, so that the diagonals' numbers do not meet; inside the image.
    const [x, y] = [a[0] + (b[0] - a[0]) * 0.4, a[1] + (b[1] - a[1]) * 0.4];
    const says = now ? typed : taped;
    if (says) line.append(label(says, keep(x, -half + (now ? 330 : 190), half - (now ? 330 : 190)), keep(y + 16, 90, Math.min(tall - 190, foot.top - 30)), now ? 70 : 44, { class: now ? 'to-do' : 'soft' }));
    group.append(line);
  }
  return group;
}

// A length as it is typed: digits and a point; in inches fractions, too.
export class Typed {
  text = '';

  key(key, units) {
    const fraction = units === 'inch' && (key === 'space' || key === '/');
    if (/^[0-9.,]$/.test(key) || fraction) {
      if (this.text.length < 12) this.text += key === 'space' ? ' ' : key;
    } else if (key === 'Backspace') {
      this.text = this.text.slice(0, -1);
    } else {
      return false;
    }
    return true;
  }

  says(units) {
    return `${this.text}_ ${units === 'inch' ? 'in' : 'mm'}`;
  }

  // As it is sent; '' where nothing is typed.
  taken(units) {
    const text = this.text.trim();
    this.text = '';
    return text && `${text} ${units === 'inch' ? 'in' : 'mm'}`;
  }
}
