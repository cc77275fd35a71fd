// Stations and the head at their places on the board.

import { keep, label, svg, verdictClass } from './drawn.js';

// From the job's frame (y up) to the drawing's (y down).
export const down = ([x, y]) => [x, -y];

// The head's outline as it hangs on the edge: 60 mm across its feet, and what is around them.
export const HEAD = { width: 90, height: 110 };
// How far lines point at the place that it covers, and how far from the outline they begin.
const LEAD = 70;
const OFF = 12;
// What the head takes up and down, lines and all, from its outline on.
export const BESIDE = LEAD + 8;

// Whether a box of this height and half width about the middle line lies over this.
function isUnder({ top, high, half }, [[ax, ay], [bx, by]]) {
  return Math.max(ay, by) > top && Math.min(ay, by) < top + high && Math.max(ax, bx) > -half && Math.min(ax, bx) < half;
}

// Its feet cover the place itself: lines beside the outline point at it, but for one that the texts at
// the bottom would lie over.
export function drawHead(place, image, foot) {
  const [x, y] = down(place.at);
  const half = image.width_mm / 2;
  const left = keep(x - HEAD.width / 2, -half, half - HEAD.width);
  const top = keep(y - HEAD.height / 2, 0, image.height_mm - HEAD.height);
  const group = svg('g', { id: 'head', class: 'calls' }, svg('rect', { class: 'head', x: left, y: top, width: HEAD.width, height: HEAD.height, rx: 12 }));
  const lines = [
    [[left - LEAD, y], [left - OFF, y]],
    [[left + HEAD.width + OFF, y], [left + HEAD.width + LEAD, y]],
    [[x, top - LEAD], [x, top - OFF]],
    [[x, top + HEAD.height + OFF], [x, top + HEAD.height + LEAD]],
  ].filter((ends) => !isUnder(foot, ends) && ends.every(([across, along]) => Math.abs(across) <= half && along >= 0 && along <= image.height_mm));
  group.append(svg('path', { class: 'lead', d: lines.map(([from, to]) => `M${from}L${to}`).join('') }));
  return group;
}

// A place beside a station, toward the middle of the image, that leaves the head's surroundings
// dark.
export function inward([x, y], image, by) {
  const [half, tall] = [image.width_mm / 2, image.height_mm];
  const across = x < -half * 0.5 ? 1 : x > half * 0.5 ? -1 : 0;
  const along = y < tall * 0.25 ? 1 : y > tall * 0.75 ? -1 : 0;
  return [x + across * by, y + along * by, across];
}

export const ANCHOR = { 1: 'start', 0: 'middle', '-1': 'end' };

// `foot`: where the texts at the bottom stand. Whatever would stand under them stands beside the mark.
export function drawStation(station, image, foot) {
  const place = down(station.at);
  // Where the head hangs nothing bright stands beside it.
  const [x, inwardY, across] = inward(place, image, station.here ? 150 : 42);
  // Two lines stand above the bottom edge; beside the head they make way for the digits.
  const atSide = across && Math.abs(inwardY - place[1]) < 1;
  const middle = !across && inwardY === place[1];
  const y = inwardY - (inwardY < place[1] ? 36 : station.here && atSide ? 130 : 0) + (middle ? 46 : 0);
  const group = svg('g', { class: `station ${station.here ? 'here' : ''}` });
  group.append(svg('circle', { class: 'mark', cx: place[0], cy: place[1], r: 14 }));
  const size = station.here ? 34 : 46;
  const wide = 24 * Math.max(station.gap?.length ?? 0, station.name.length * 0.7);
  const [from, to] = across === 0 ? [x - wide / 2, x + wide / 2] : [Math.min(x, x + across * wide), Math.max(x, x + across * wide)];
  if (!station.here && y + 40 > foot.top && y < foot.top + foot.high && from < foot.half && to > -foot.half) {
    const judged = `${station.verdict?.shape ?? ''} ${station.gap} ${station.verdict?.says ?? ''}`.trim();
    const says = station.gap ? judged : station.name;
    const side = across < 0 ? -1 : 1;
    const own = station.gap ? verdictClass(station.verdict) : 'soft';
    group.append(label(says, place[0] + side * 30, place[1] + 12, station.gap ? 46 : 30, { class: own, 'text-anchor': ANCHOR[side] }));
    return group;
  }
  if (station.gap) {
    const own = verdictClass(station.verdict);
    const shaped = `${station.verdict?.shape ?? ''} ${station.gap}`.trim();
    const says = station.here ? `taken: ${shaped}` : shaped;
    // At the bottom edge it stands beside the head: the foot is above.
    const [saysX, saysY, anchor] = station.here && place[1] > image.height_mm * 0.75
      ? [place[0] + (across < 0 ? -110 : 110), place[1] - 40, across < 0 ? 'end' : 'start']
      : [x, y + 16, ANCHOR[across]];
    group.append(label(says, saysX, saysY, size, { class: own, 'text-anchor': anchor }));
    if (!station.here && station.verdict) group.append(label(station.verdict.says, x, y + 52, 30, { class: own, 'text-anchor': ANCHOR[across] }));
  } else if (!station.here) {
    group.append(label(station.name, x, y + 12, 30, { class: 'soft', 'text-anchor': ANCHOR[across] }));
  }
  return group;
}
