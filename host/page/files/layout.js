// Where the texts of the board page stand: digits beside the head, what to do where there is room, the rest
// at the foot; nothing lies over anything else. In mm of the image, from the middle of its top edge, y
// down. Pure.

import { judged, keep, overlap, verdictClass, wrapped } from './drawn.js';
import { ANCHOR, BESIDE, down, HEAD, inward } from './places.js';
import { withoutHead } from './walk.js';

// What is written at the top edge, the adjusters' rings, and the words under the one to turn end here.
const EDGE = 150;
const RINGS = 320;
const TURN_WORDS = 560;
// A letter is so wide, of its size; lines of words are so far apart.
const WIDE = 0.56;
const APART = 1.1;
// The digits are a hand high, and take so much across.
const DIGITS = 140;
const ACROSS = 660;
// The digits stand so far from the edge where the head hangs.
const OFF = 310;

// What is smaller than most boards is written smaller, the digits only a little.
export function scaleOf({ width_mm: width, height_mm: height }) {
  return Math.min(1, width / 1900, height / 1180);
}

const isTurned = ({ adjusters }) => adjusters.some(({ turn }) => turn);

// What stands at the foot: what is long stands smaller, in as many lines as it wants. Where the head hangs there it
// stands above the head (`low`). `panel`: what is opened beside it, as a box.
function footOf(state, image, texts, panel) {
  const [u, tall] = [scaleOf(image), image.height_mm];
  const lines = texts.flatMap((says) => {
    const long = says.length > 88;
    return wrapped(says, long ? 124 : 88).map((line) => ({ line, size: (long ? 22 : 29) * u }));
  });
  const high = 26 * u + lines.reduce((sum, { size }) => sum + size * 1.28, 0);
  // Letters are half as wide as high, or a little more.
  const half = Math.min(image.width_mm * 0.335, 30 + Math.max(...lines.map(({ line, size }) => line.length * size * 0.28)));
  const room = image.width_mm / 2 - half;
  const beside = !panel ? 0 : panel.left < 0 ? Math.max(0, panel.right + half + 12) : Math.min(0, panel.left - half - 12);
  const middle = keep(beside, -room, room);
  const boxAbove = (bottom) => ({ left: middle - half, right: middle + half, top: bottom - high, bottom });
  const stationsBelow = state.stations.some(({ at: [, y] }) => -y > tall - 100);
  const usual = boxAbove(tall - (stationsBelow ? 114 : withoutHead(state) ? 24 : 0));
  if (!state.place?.at) return { lines, middle, box: usual, low: false };
  const [x, y] = down(state.place.at);
  const top = keep(y - HEAD.height / 2, 0, tall - HEAD.height);
  const head = { left: x - HEAD.width, right: x + HEAD.width, top, bottom: top + HEAD.height };
  const low = overlap(head, usual) || (y > usual.top && Math.abs(x) < half);
  return { lines, middle, box: low ? boxAbove(top - BESIDE) : usual, low };
}

// The number, large, and what is said of it; on the emitter and of a level the tilts are the number.
function gapRows({ gap, aim, tilts }, live, u) {
  const [main, ...others] = tilts.length ? tilts : [gap];
  const own = live.fresh && main.is === 'good' ? verdictClass(main.verdict) : 'old';
  const called = tilts.length ? `${main.name} ` : '';
  const stands = main.is === 'good' ? judged(main.verdict) : `– ${main.why ?? 'no reading'}`;
  const rows = [
    { says: `${main.digits} ${main.unit}`, size: DIGITS * Math.max(u, 0.9), own: `digits ${own}`, through: !live.fresh },
    { says: live.fresh ? `${called}${stands}` : live.says, size: 44 * u, own },
    ...others.map((tilt) => ({ says: `${tilt.name} ${tilt.digits} ${tilt.unit} ${judged(tilt.verdict)}`, size: 60 * u, own: 'unjudged', through: !live.fresh })),
  ];
  if (aim) {
    const way = aim.to_go_mm > 0 ? '▲' : '▼';
    const toGo = aim.there ? `■ stop: it is ${aim.to}` : aim.to_go ? `${way} to ${aim.to}: ${aim.to_go} to go` : `to ${aim.to}`;
    rows.push({ says: toGo, size: 44 * u, own: aim.there ? 'within' : 'to-do' });
  }
  return rows;
}

// On which side of the board the person stands; where in the middle, and there is much to say, digits and words stand
// beside one another.
function sideOf(state, image, { low }) {
  const side = Math.sign(Math.round((state.place?.at?.[0] ?? 0) / image.width_mm * 2));
  return { side, apart: low || (side === 0 && isTurned(state)) };
}

// Where the digits would stand best.
function wantedAt({ place }, image, foot, apart, u) {
  const [half, tall] = [image.width_mm / 2, image.height_mm];
  if (!place?.at) return [apart ? half * 0.45 : 0, 0, 0];
  const at = down(place.at);
  const [x, y, across] = inward(at, image, OFF * u);
  if (apart) return [half * 0.45, foot.low ? tall : y, 0];
  // In the midst of the board above the head or below it.
  return !across && y === at[1] ? [x, y + (y < tall / 2 ? OFF : -OFF * 0.8) * u, 0] : [x, y, across];
}

// Beside the station where the person stands, below what is written of the adjusters.
function gapOf(state, image, live, foot) {
  const [half, u] = [image.width_mm / 2, scaleOf(image)];
  const rows = gapRows(state, live, u);
  const { size } = rows[0];
  const under = rows.slice(1).reduce((sum, row) => sum + row.size * 1.2, 0);
  const from = (isTurned(state) ? TURN_WORDS : state.adjusters.length ? RINGS : EDGE) * u + 0.8 * size;
  const wanted = wantedAt(state, image, foot, sideOf(state, image, foot).apart, u);
  const y = Math.min(Math.max(wanted[1], from), foot.box.top - under - 24);
  const anchor = ANCHOR[wanted[2]];
  const across = ACROSS * size / DIGITS;
  const [before, after] = { start: [0, across], middle: [across / 2, across / 2], end: [across, 0] }[anchor];
  const x = keep(wanted[0], before - half + 20, half - 20 - after);
  let row = y;
  const placed = rows.map((one, index) => {
    if (index) row += one.size * 1.2;
    return { ...one, x, y: row, anchor };
  });
  return { rows: placed, box: { left: x - before, right: x + after, top: y - 0.8 * size, bottom: row + 14 } };
}

// What is said beside the instruction; what matters most comes first.
function moreOf(state, says) {
  const more = [];
  if (state.question) more.push(['enter: yes   n: no', 'to-do']);
  if (state.whole) more.push([`${state.whole.verdict.shape} ${state.whole.headline}`, verdictClass(state.whole.verdict)]);
  // Said once: the instruction may be what to do about it.
  if (state.trouble && !says.includes(state.trouble.says)) more.push([state.trouble.says, 'outside']);
  if (state.message) more.push([state.message.says, state.message.bad ? 'outside' : 'soft']);
  if (withoutHead(state)) more.push(...state.lines.map((line) => [line, 'soft']));
  return more;
}

// Where what there is to do has room: beside the digits, or where they leave most.
function zoneOf(state, image, foot, gap) {
  const [wide, u] = [image.width_mm, scaleOf(image)];
  const { side, apart } = sideOf(state, image, foot);
  const x = apart ? -wide * 0.225 : -side * wide * 0.21;
  const across = wide * (apart || side ? 0.37 : 0.5);
  const top = (isTurned(state) ? TURN_WORDS : state.adjusters.length ? RINGS : EDGE) * u + 20;
  // A length's own number stands above the foot.
  const bottom = foot.box.top - (state.lengths.length ? 100 : 20);
  const zone = { x, across, left: x - across / 2, right: x + across / 2, top, bottom };
  return [gap, headOf(state)].filter(Boolean).reduce(without, zone);
}

// The larger part of a zone, above or below what stands in it.
function without(zone, box) {
  if (!overlap(zone, box)) return zone;
  const [above, below] = [{ ...zone, bottom: box.top - 15 }, { ...zone, top: box.bottom + 15 }];
  return above.bottom - above.top > below.bottom - below.top ? above : below;
}

// The head with the lines beside it, and its darkness.
function headOf({ place }) {
  if (!place?.at) return null;
  const [x, y] = down(place.at);
  const around = HEAD.height / 2 + BESIDE;
  return { left: x - around, right: x + around, top: y - around, bottom: y + around };
}

// What to do, as large as it fits; what is said beside it as far as there is room.
function wordsOf(state, image, foot, gap) {
  const [tall, u] = [image.height_mm, scaleOf(image)];
  const says = state.question ? state.question.asks : state.instruction;
  const zone = zoneOf(state, image, foot, gap);
  const linesAt = (size, text) => wrapped(text, Math.floor(zone.across / (size * WIDE)));
  const sizes = (says.length > 80 ? [40, 34, 28] : [58, 46, 40, 34, 28]).map((size) => size * u);
  // With a line left for the verdict over everything.
  const fits = (size) => (linesAt(size, says).length * size + (state.whole ? Math.min(36 * u, size) : 0)) * APART <= zone.bottom - zone.top;
  const size = sizes.find(fits) ?? sizes.at(-1);
  const rows = linesAt(size, says).map((line) => ({ says: line, size, own: 'instruction' }));
  const small = Math.min(36 * u, size);
  for (const [line, own] of moreOf(state, says)) rows.push(...linesAt(small, line).map((part) => ({ says: part, size: small, own })));
  const need = () => rows.reduce((sum, row) => sum + row.size * APART, 0);
  const all = rows.length;
  while (rows.length > 1 && need() > zone.bottom - zone.top) rows.pop();
  // What is cut is seen to be.
  if (rows.length < all) rows.at(-1).says += ' …';
  // Where the head hangs low the words stand high.
  const high = state.place?.at && -state.place.at[1] > tall * 0.6;
  const top = Math.max(zone.top, Math.min(tall * (high ? 0.4 : 0.62), zone.bottom - need()));
  const half = Math.max(...rows.map((row) => row.says.length * row.size * WIDE)) / 2;
  let y = top;
  const placed = rows.map((row) => {
    y += row.size * APART;
    return { ...row, x: zone.x, y: y - row.size * 0.25, anchor: 'middle' };
  });
  return { rows: placed, box: { left: zone.x - half, right: zone.x + half, top, bottom: y } };
}

// What stands where it stands: the adjusters with their words, the head in its darkness.
function fixed(state, image) {
  const u = scaleOf(image);
  const boxes = state.adjusters.length ? [{ left: -510 * u, right: 510 * u, top: 104 * u, bottom: (isTurned(state) ? TURN_WORDS : RINGS) * u }] : [];
  return [...boxes, headOf(state)].filter(Boolean);
}

// Everything at its place. `texts`: what stands at the foot; `live`: whether the number may be believed, and
// what is said if not; `quiet`: no words are wanted.
export function layout(state, image, { texts, live, quiet, panel }) {
  const foot = footOf(state, image, texts, panel);
  const gap = withoutHead(state) ? null : gapOf(state, image, live, foot);
  const words = quiet ? null : wordsOf(state, image, foot, gap?.box);
  const boxes = [foot, gap, words].filter(Boolean).map(({ box }) => box);
  return { foot, gap, words, boxes: [...boxes, ...fixed(state, image)] };
}
