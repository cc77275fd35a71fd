// The board page: everything at its true place, by fraction of the window. It only looks: every
// touch is swallowed, since the plane that is being turned makes touches of its own. Words come from
// the keyboard, the head's button or the phone.

import { drawAdjusters } from './adjusters.js';
import { Announcer, told } from './announce.js';
import { drawField, judged, keep, label, svg, text, verdictClass, wrapped } from './drawn.js';
import { keysNow, PRESSED, wordOf } from './keys.js';
import { Link, linkWords } from './link.js';
import { ANCHOR, BESIDE, down, drawHead, drawStation, HEAD, inward } from './places.js';
import { doubts, seenNow } from './scale.js';
import { Ear } from './sound.js';
import { drawFrame, drawTape, FrameKeys } from './frame.js';
import { Stage } from './stage.js';
import { drawSteps, Steps } from './steps.js';
import { drawLengths, drawMarks, Typed, withoutHead } from './walk.js';

const at = (id) => document.getElementById(id);
const stage = new Stage(at('stage'));
const asked = new URLSearchParams(location.search);
let theme = 'dark';
let units = asked.get('units') === 'inch' ? 'inch' : 'mm';
// What is drawn over the work: 'frame', 'tape', 'code', 'steps', or nothing.
let over = '';
let quiet = false;
let heard = '';
let refusedUntil = 0;

const link = new Link('board', units, show);
const ear = new Ear(link, (says) => { heard = says; draw(); });
const steps = new Steps(link, show);
const announcer = new Announcer((says) => text(at('in-words'), says));
const typed = new Typed();
const frameKeys = new FrameKeys((frame) => tell(link.post('/frame', frame)));

// The head hangs where the foot would stand: that stands above it, digits and words beside one another.
function isLow(state, image) {
  const [x, y] = state.place?.at ? down(state.place.at) : [0, 0];
  return y > image.height_mm - 290 && Math.abs(x) < image.width_mm * 0.4;
}

// Where the foot begins, and its lines begin: what is long stands smaller, in as many lines as it wants.
function foot(state, image) {
  const lines = footTexts(state).flatMap((says) => {
    const long = says.length > 88;
    return wrapped(says, long ? 124 : 88).map((line) => ({ line, size: long ? 22 : 29 }));
  });
  const high = 26 + lines.reduce((sum, { size }) => sum + size * 1.28, 0);
  const tall = image.height_mm;
  const edge = state.stations.some(({ at: [, y] }) => -y > tall - 100) ? tall - 114 : tall;
  const low = isLow(state, image) ? keep(down(state.place.at)[1] - HEAD.height / 2, 0, tall - HEAD.height) - BESIDE : edge;
  // Letters are half as wide as high, or a little more.
  const half = Math.min(image.width_mm * 0.335, 30 + Math.max(...lines.map(({ line, size }) => line.length * size * 0.28)));
  return { lines, high, half, top: low - high };
}

// Digits a hand high (100 mm) beside the station where the person stands.
function drawGap(state, image) {
  const { gap, place } = state;
  const [half, tall] = [image.width_mm / 2, image.height_mm];
  const beside = isLow(state, image) ? [half * 0.45, tall, 0] : null;
  const here = beside ?? (place?.at ? inward(down(place.at), image, 250) : [0, tall * 0.5, 0]);
  const x = keep(here[0], -half + 60, half - 60);
  // Below the adjusters, above the foot.
  const y = keep(here[1], state.aim ? 640 : state.adjusters.length ? 580 : 380, foot(state, image).top - 150);
  const anchor = ANCHOR[here[2]];
  const fresh = link.fresh;
  const group = svg('g', { id: 'gap' });
  const own = fresh && gap.is === 'good' ? verdictClass(gap.verdict) : 'old';
  group.append(label(`${gap.digits} ${gap.unit}`, x, y, 140, { class: `digits ${own}`, 'text-anchor': anchor, 'text-decoration': fresh ? null : 'line-through' }));
  const says = !fresh ? linkWords(link) : gap.is === 'good' ? judged(gap.verdict) : `– ${gap.why ?? 'no reading'}`;
  group.append(label(says, x, y + 54, 44, { class: own, 'text-anchor': anchor }));
  if (state.aim) {
    const { aim } = state;
    const way = aim.to_go_mm > 0 ? '▲' : '▼';
    const toGo = aim.there ? `■ stop: it is ${aim.to}` : aim.to_go ? `${way} to ${aim.to}: ${aim.to_go} to go` : `to ${aim.to}`;
    group.append(label(toGo, x, y + 106, 44, { class: aim.there ? 'within' : 'to-do', 'text-anchor': anchor }));
  }
  state.tilts.forEach((tilt, index) => {
    group.append(label(`${tilt.name} ${tilt.digits} ${tilt.unit} ${judged(tilt.verdict)}`, x, y + 110 + 60 * index, 52, { 'text-anchor': anchor }));
  });
  return group;
}

function drawWords(state, image) {
  const tall = image.height_mm;
  const group = svg('g', { id: 'words' });
  const says = state.question ? state.question.asks : state.instruction;
  const low = isLow(state, image);
  const side = Math.sign(Math.round((state.place?.at?.[0] ?? 0) / image.width_mm * 2));
  const x = low ? -image.width_mm * 0.225 : -side * image.width_mm * 0.18;
  const [most, size] = says.length > 80 ? [low ? 28 : 44, low ? 46 : 40] : [low ? 22 : 28, 58];
  const lines = wrapped(says, most).slice(0, 6);
  // The digits stand beside the person: the instruction has the other half.
  const high = state.place?.at && -state.place.at[1] > tall * 0.6;
  const { top } = foot(state, image);
  const from = high ? tall * (state.adjusters.length ? 0.44 : 0.3) : Math.min(tall * 0.66, top - (lines.length + 0.5) * size * 1.1);
  lines.forEach((line, index) => {
    group.append(label(line, x, from + index * size * 1.1, size, { class: 'instruction' }));
  });
  let y = from + lines.length * size * 1.1 - 4;
  const more = [];
  if (state.question) more.push(['enter: yes   n: no', 'to-do']);
  // Said once: the instruction may be what to do about it.
  if (state.trouble && !says.includes(state.trouble.says)) more.push([state.trouble.says, 'outside']);
  if (state.message) more.push([state.message.says, state.message.bad ? 'outside' : 'soft']);
  if (state.whole) more.push([`${state.whole.verdict.shape} ${state.whole.headline}`, verdictClass(state.whole.verdict)]);
  if (withoutHead(state)) more.push(...state.lines.map((line) => [line, 'soft']));
  for (const [line, own] of more) {
    for (const part of wrapped(line, low ? 40 : 50).slice(0, 4)) {
      if (y > top - 20) break;
      group.append(label(part, x, y, 36, { class: own }));
      y += 42;
    }
  }
  return group;
}

function footTexts(state) {
  const acts = link.hello?.may === 'acts';
  const keys = acts
    ? [...(state.lengths.length ? ['type the length, enter: keep'] : []), ...keysNow(state).map(([key, does]) => `${key}: ${does}`), 'p: frame', 'j: steps', 'f: full screen'].join(' · ')
    : 'this page only looks: words come from the phone or the head’s button';
  return [
    [linkWords(link), state.title, withoutHead(state) ? '' : state.lines[0]].filter(Boolean).join(' · '),
    keys,
    'Do not look into the projector’s lens from the ladder. Unplug the display’s touch until the proof.',
    state.cautions.join(' '),
  ];
}

function drawFoot({ lines, high, half, top }) {
  const group = svg('g', { id: 'foot' });
  group.append(svg('rect', { class: 'panel', x: -half, y: top, width: half * 2, height: high }));
  let y = top + 6;
  lines.forEach(({ line, size }, index) => {
    y += size * 1.28;
    group.append(label(line, 0, y, size, { class: index === 0 && !link.fresh ? 'outside' : 'soft' }));
  });
  if (heard && ear.tones) group.append(label(`♪ ${heard}`, 0, top - 8, 28, { class: 'soft' }));
  return group;
}

// Around the head it is dark.
function drawDark(place) {
  const [x, y] = down(place.at);
  return svg('circle', { class: 'panel', cx: x, cy: y, r: 170 });
}

function drawCode(image) {
  const group = svg('g', { id: 'code' });
  const rows = link.hello?.code ?? [];
  const side = Math.min(image.height_mm * 0.5, 520);
  const module = side / (rows.length + 8);
  const [x, y] = [-side / 2, image.height_mm / 2 - side / 2];
  group.append(svg('rect', { class: 'code-paper', x, y, width: side, height: side }));
  const dark = rows.flatMap((row, down) => [...row].map((module, across) => (module === '1' ? [across, down] : null)).filter(Boolean));
  group.append(svg('path', { class: 'code', 'shape-rendering': 'crispEdges', d: dark.map(([across, down]) => `M${x + (across + 4) * module} ${y + (down + 4) * module}h${module}v${module}h${-module}z`).join('') }));
  const says = link.hello?.on_lan ? 'Scan to look on. To act, scan the code in the terminal.' : 'Phones do not reach this page: start it with --lan.';
  group.append(label(says, 0, y + side + 60, 40));
  return group;
}

function notKnown() {
  return svg('defs', {}, svg('pattern', { id: 'not-known', width: 28, height: 28, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)' }, svg('line', { class: 'hatch', x1: 0, y1: 0, x2: 0, y2: 28 })));
}

// Without a job there are no places; then the screen is 1000 high.
function imageOf(state) {
  return state.image ?? { width_mm: 1000 * innerWidth / innerHeight, height_mm: 1000 };
}

// The work: everything at its place.
function drawWork(state, image) {
  const { place } = state;
  if (state.field && !quiet) stage.part('field', [state.field, image], () => drawField(state.field, image));
  if (place?.at) stage.part('dark', place.at, () => drawDark(place));
  const { top, high, half } = foot(state, image);
  const low = { top, high, half };
  for (const station of state.stations) stage.part(`station ${station.index}`, [station, image, low], () => drawStation(station, image, low));
  if (state.adjusters.length) stage.part('adjusters', [state.adjusters, state.aim?.share, state.aim?.there], () => drawAdjusters(state));
  const typing = typed.says(units);
  if (state.lengths.length) stage.part('lengths', [state.lengths, image, typing], () => drawLengths(state.lengths, image, typing));
  if (state.marks.length) stage.part('marks', [state.marks, image], () => drawMarks(state.marks, image));
  if (!quiet) {
    const { question, instruction, trouble, message, whole, lines, adjusters } = state;
    stage.part('words', [question, instruction, trouble, message, whole, lines, adjusters.length, place, image, top], () => drawWords(state, image));
  }
  if (!withoutHead(state)) {
    const { gap, aim, tilts, adjusters } = state;
    stage.part('gap', [gap, aim, tilts, adjusters.length, place, image, link.is, top], () => drawGap(state, image));
  }
  if (place?.at) stage.part('head', [place.at, image, low], () => drawHead(place, image, low));
  if (over === 'steps') stage.part('steps', [steps.as, image, place?.at], () => drawSteps(steps, image, place?.at));
}

function draw() {
  const { state } = link;
  showDoubts(state);
  if (!state) {
    const says = link.is === 'refused' ? '' : linkWords(link);
    stage.part('link', says, () => label(says, 50, 50, 4));
    stage.view('0 0 100 100');
    stage.show();
    return;
  }
  const image = imageOf(state);
  const { width_mm: width, height_mm: height } = image;
  stage.view(`${-width / 2} 0 ${width} ${height}`);
  stage.part('not known', 0, notKnown);
  if (over === 'frame') stage.part('frame', [image, state.units, frameKeys.says(units)], () => drawFrame(image, state.units, frameKeys));
  else if (over === 'tape') stage.part('tape', image, () => drawTape(image));
  else if (over === 'code') stage.part('code', [link.hello, image], () => drawCode(image));
  else drawWork(state, image);
  if (over !== 'frame' && over !== 'tape') {
    const foots = foot(state, image);
    stage.part('foot', [foots, link.fresh, image, ear.tones && heard], () => drawFoot(foots));
  }
  stage.show();
  announcer.hear(told(link, state));
  text(at('title'), `skimgauge on the board: ${state.title}`);
  link.draws(state);
}

function showDoubts(state) {
  const found = doubts(state?.image ?? null, seenNow());
  at('doubt').hidden = !found.length || link.is === 'refused';
  text(at('doubt'), found.length ? `Places are doubtful: ${found.join('; ')}.` : '');
  document.documentElement.dataset.places = found.length ? 'doubtful' : 'true';
  if (link.is === 'refused' || (link.is === 'lost' && link.says)) refuse(link.says, Infinity);
  if (performance.now() > refusedUntil) at('refused').hidden = true;
}

// Drawn at most once a frame, whatever comes.
let waits = false;
function show() {
  ear.changed();
  if (waits) return;
  waits = true;
  requestAnimationFrame(() => {
    waits = false;
    draw();
  });
}

function refuse(says, forMs = 5000) {
  refusedUntil = performance.now() + forMs;
  text(at('refused'), says);
  at('refused').hidden = !says;
}

async function tell(answer) {
  const refused = await answer;
  if (refused) refuse(refused);
  show();
}

const ONLY_LOOKS = 'This page only looks: say it on the phone, or with the head’s button.';

const PAGE_KEYS = {
  f: () => (document.fullscreenElement ? document.exitFullscreen() : document.documentElement.requestFullscreen?.()),
  i: () => {
    units = units === 'mm' ? 'inch' : 'mm';
    link.show(units);
  },
  l: () => {
    theme = theme === 'dark' ? 'light' : 'dark';
    document.documentElement.dataset.theme = theme;
  },
  h: () => { quiet = !quiet; },
  s: () => ear.setTones(!ear.tones),
  p: () => { over = over === 'frame' ? '' : 'frame'; frameKeys.begin(); },
  t: () => { over = over === 'tape' ? '' : 'tape'; },
  a: () => { over = over === 'code' ? '' : 'code'; },
  j: () => { over = over === 'steps' ? '' : 'steps'; },
  Escape: () => { over = ''; },
};

// The length that is to be taped now, as it is typed.
function typesLength(key, state) {
  const wanted = state.lengths.find(({ now }) => now);
  if (!wanted) return false;
  if (typed.key(key, units)) return true;
  if (key !== 'enter' || !typed.text.trim()) return false;
  if (link.hello?.may !== 'acts') refuse(ONLY_LOOKS);
  else tell(link.post('/taped', { name: wanted.name, length: typed.taken(units) }));
  return true;
}

document.addEventListener('keydown', (event) => {
  // A key that is held down is one word, not many; a shortcut of the browser is none.
  if (event.repeat || event.ctrlKey || event.altKey || event.metaKey) return;
  const { state } = link;
  const key = PRESSED[event.key] ?? (event.key.length === 1 ? event.key.toLowerCase() : event.key);
  if (over === 'frame' && frameKeys.key(key, units)) {
    event.preventDefault();
    if (frameKeys.over) over = '';
    show();
    return;
  }
  if ((!over || over === 'steps') && state && typesLength(key, state)) {
    event.preventDefault();
    show();
    return;
  }
  if (PAGE_KEYS[key]) {
    event.preventDefault();
    PAGE_KEYS[key]();
    steps.look(over === 'steps');
    show();
    return;
  }
  if (!state) return;
  const word = wordOf(key, state);
  if (word === undefined) return;
  event.preventDefault();
  if (link.hello?.may !== 'acts') refuse(ONLY_LOOKS);
  else tell(link.say(word));
});

// Fingers, ghosts, mice: nothing.
for (const kind of ['pointerdown', 'pointerup', 'pointermove', 'pointercancel', 'touchstart', 'touchmove', 'touchend', 'mousedown', 'mouseup', 'click', 'dblclick', 'auxclick', 'contextmenu', 'wheel', 'gesturestart', 'dragstart']) {
  document.addEventListener(kind, (event) => {
    event.preventDefault();
    event.stopImmediatePropagation();
  }, { capture: true, passive: false });
}

for (const change of ['resize', 'fullscreenchange']) window.addEventListener(change, show);
window.visualViewport?.addEventListener('resize', show);
window.visualViewport?.addEventListener('scroll', show);
document.documentElement.dataset.theme = theme;
draw();
