// Stations and the head at their places on the board.

import { keep, label, overlap, svg, verdictClass } from './drawn.js';

// From the job's frame (y up) to the drawing's (y down).
export const down = ([x, y]) => [x, -y];

// The head's outline as it hangs on the edge: 60 mm across its feet, and what is around them.
export const HEAD = { width: 90, height: 110 };
// How far lines point at the place that it covers, and how far from the outline they begin.
const LEAD = 70;
const OFF = 12;
// What the head takes up and down, lines and all, from its outline on.
export const BESIDE = LEAD + 8;

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
  ].filter((ends) => !overlap(boxOf(ends), foot) && ends.every(([across, along]) => Math.abs(across) <= half && along >= 0 && along <= image.height_mm));
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

const boxOf = ([[ax, ay], [bx, by]]) => ({ left: Math.min(ax, bx), right: Math.max(ax, bx), top: Math.min(ay, by), bottom: Math.max(ay, by) });

// A line of text with what it takes: numbers are wider than words.
function line(says, x, y, size, own, anchor) {
  const wide = says.length * size * (says.length > 10 ? 0.5 : 0.56);
  const left = anchor === 'start' ? x : anchor === 'end' ? x - wide : x - wide / 2;
  return { says, x, y, size, own, anchor, box: { left, right: left + wide, top: y - size * 0.8, bottom: y + size * 0.22 } };
}

// What is written of a station, in the forms that it may have, the best first: toward the middle of the image in
// two lines, beside its mark in one, above it, or its shape alone.
function forms(station, image) {
  const place = down(station.at);
  const [x, inwardY, across] = inward(place, image, 42);
  const middle = !across && inwardY === place[1];
  const y = inwardY - (inwardY < place[1] ? 36 : 0) + (middle ? 46 : 0);
  const side = across < 0 ? -1 : 1;
  const shape = station.verdict?.shape ?? '';
  const own = station.gap ? verdictClass(station.verdict) : 'soft';
  const one = `${shape} ${station.gap ?? station.name} ${station.gap ? station.verdict?.says ?? '' : ''}`.trim();
  const size = station.gap ? 46 : 30;
  const inwards = station.gap
    ? [line(`${shape} ${station.gap}`.trim(), x, y + 16, 46, own, ANCHOR[across]), ...(station.verdict ? [line(station.verdict.says, x, y + 52, 30, own, ANCHOR[across])] : [])]
    : [line(station.name, x, y + 12, 30, own, ANCHOR[across])];
  const beside = [line(one, place[0] + side * 30, place[1] + 12, size, own, ANCHOR[side])];
  const above = [line(one, place[0], place[1] - 26, size, own, 'middle')];
  return [inwards, beside, above, ...(shape ? [[line(shape, place[0], place[1] + 12, 34, own, 'middle')]] : [])];
}

// What is taken at the place where the head hangs: beside its outline, out of the digits' way.
function taken(station, image) {
  const place = down(station.at);
  // Beside an upright edge close to it: the adjusters' words begin not far off.
  const across = inward(place, image, 1)[2];
  const [x, inwardY] = inward(place, image, across ? 100 : 150);
  const atSide = across && Math.abs(inwardY - place[1]) < 1;
  const y = inwardY - (inwardY < place[1] ? 36 : 0) - (atSide ? 130 : 0) + (!across && inwardY === place[1] ? 46 : 0);
  const says = `taken: ${`${station.verdict?.shape ?? ''} ${station.gap}`.trim()}`;
  // At the bottom edge the foot is above, at the top edge an adjuster below.
  const low = place[1] > image.height_mm * 0.75;
  const [saysX, saysY, anchor] = low || !across && place[1] < image.height_mm * 0.25
    ? [place[0] + (across < 0 ? -110 : 110), place[1] + (low ? -40 : 60), across < 0 ? 'end' : 'start']
    : [x, y + 16, ANCHOR[across]];
  return [line(says, saysX, saysY, 34, verdictClass(station.verdict), anchor)];
}

const markOf = ([x, y]) => ({ left: x - 18, right: x + 18, top: y - 18, bottom: y + 18 });

// What is written of each station: in the best form that lies over nothing else, or not at all. `boxes`: where
// other texts stand.
export function writeStations(stations, image, boxes) {
  const marks = stations.map(({ at }) => markOf(down(at)));
  const used = [...boxes];
  const half = image.width_mm / 2;
  const isWhole = ({ left, right, top, bottom }) => left >= -half && right <= half && top >= 0 && bottom <= image.height_mm;
  return stations.map((station, index) => {
    const others = [...used, ...marks.filter((_, other) => other !== index)];
    const isFree = (form) => form.every(({ box }) => isWhole(box) && !others.some((other) => overlap(box, other)));
    const here = station.gap ? taken(station, image) : [];
    const written = station.here ? here : forms(station, image).find(isFree) ?? [];
    used.push(...written.map(({ box }) => box));
    return { station, written, boxes: [marks[index], ...written.map(({ box }) => box)] };
  });
}

export function drawStation({ station, written }) {
  const [x, y] = down(station.at);
  const group = svg('g', { class: `station ${station.here ? 'here' : ''}` });
  group.append(svg('circle', { class: 'mark', cx: x, cy: y, r: 14 }));
  for (const { says, x: left, y: low, size, own, anchor } of written) group.append(label(says, left, low, size, { class: own, 'text-anchor': anchor }));
  return group;
}
