// The board page: everything at its true place, by fraction of the window. It only looks: every
// touch is swallowed, since the plane that is being turned makes touches of its own. Words come from
// the keyboard, the head's button or the phone.

import { drawAdjusters } from './adjusters.js';
import { Announcer, told } from './announce.js';
import { drawField, drawLevels, label, svg, text } from './drawn.js';
import { keysNow, PRESSED, wordOf } from './keys.js';
import { Link, linkWords } from './link.js';
import { layout, scaleOf } from './layout.js';
import { down, drawHead, drawStation, writeStations } from './places.js';
import { doubts, seenNow } from './scale.js';
import { Ear } from './sound.js';
import { drawFrame, drawTape, FrameKeys } from './frame.js';
import { Stage } from './stage.js';
import { drawSteps, layOutSteps, Steps } from './steps.js';
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

// Rows of text as they were laid out.
function drawRows(id, rows) {
  return svg('g', { id }, ...rows.map(({ says, x, y, size, own, anchor, through }) => label(says, x, y, size, { class: own, 'text-anchor': anchor, 'text-decoration': through ? 'line-through' : null })));
}

function footTexts(state) {
  const acts = link.hello?.may === 'acts';
  const keys = acts
    ? [...(state.lengths.length ? ['type the length, enter: keep'] : []), ...keysNow(state).map(([key, does]) => `${key}: ${does}`), 'p: frame', 'j: steps', 'f: full screen'].map((key) => key.replace(': ', ':\u00a0')).join(' · ')
    : 'this page only looks: words come from the phone or the head’s button';
  return [
    [linkWords(link), state.title, withoutHead(state) ? '' : state.lines[0]].filter(Boolean).join(' · '),
    keys,
    'Do not look into the projector’s lens from the ladder. Unplug the display’s touch until the proof.',
    state.cautions.join(' '),
  ];
}

function drawFoot({ lines, middle, box }) {
  const group = svg('g', { id: 'foot' });
  group.append(svg('rect', { class: 'panel', x: box.left, y: box.top, width: box.right - box.left, height: box.bottom - box.top }));
  let y = box.top + 6;
  lines.forEach(({ line, size }, index) => {
    y += size * 1.28;
    group.append(label(line, middle, y, size, { class: index === 0 && !link.fresh ? 'outside' : 'soft' }));
  });
  if (heard && ear.tones) group.append(label(`♪ ${heard}`, middle, box.top - 8, 28, { class: 'soft' }));
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
  const side = Math.min(image.height_mm * 0.4, 500);
  const module = side / (rows.length + 8);
  const [x, y] = [-side / 2, image.height_mm * 0.08];
  group.append(svg('rect', { class: 'code-paper', x, y, width: side, height: side }));
  const dark = rows.flatMap((row, down) => [...row].map((module, across) => (module === '1' ? [across, down] : null)).filter(Boolean));
  group.append(svg('path', { class: 'code', 'shape-rendering': 'crispEdges', d: dark.map(([across, down]) => `M${x + (across + 4) * module} ${y + (down + 4) * module}h${module}v${module}h${-module}z`).join('') }));
  const says = link.hello?.on_lan
    ? ['Scan to look on. To act, scan the code in the terminal.', 'A phone does not open it? Guest networks keep devices apart:', 'make a hotspot on a phone, join the laptop to it, and start again.']
    : ['Phones do not reach this page: start it with --lan.'];
  says.forEach((line, index) => group.append(label(line, 0, y + side + 60 + index * 48, 40)));
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
function drawWork(state, image, { foot, gap, words, boxes }) {
  const { place, adjusters } = state;
  const written = writeStations(state.stations, image, boxes);
  if (state.field && !quiet) {
    const used = [...boxes, ...written.flatMap((one) => one.boxes)];
    stage.part('field', [state.field, image], () => drawField(state.field, image));
    stage.part('levels', [state.field, image, used], () => drawLevels(state.field, image, used));
  }
  if (place?.at) stage.part('dark', place.at, () => drawDark(place));
  for (const one of written) stage.part(`station ${one.station.index}`, one, () => drawStation(one));
  if (adjusters.length) stage.part('adjusters', [adjusters, state.aim?.share, state.aim?.there, image], () => drawAdjusters(state, scaleOf(image)));
  const typing = typed.says(units);
  if (state.lengths.length) stage.part('lengths', [state.lengths, image, typing, foot.box], () => drawLengths(state.lengths, image, typing, foot.box));
  if (state.marks.length) stage.part('marks', [state.marks, image, foot.box], () => drawMarks(state.marks, image, foot.box));
  if (words) stage.part('words', words, () => drawRows('words', words.rows));
  if (gap) stage.part('gap', gap, () => drawRows('gap', gap.rows));
  if (place?.at) stage.part('head', [place.at, image, foot.box], () => drawHead(place, image, foot.box));
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
  const panel = over === 'steps' ? layOutSteps(steps, image, state.place?.at) : null;
  const laid = layout(state, image, { texts: footTexts(state), live: { fresh: link.fresh, says: linkWords(link) }, quiet, panel: panel?.box });
  if (over === 'frame') stage.part('frame', [image, state.units, frameKeys.says(units)], () => drawFrame(image, state.units, frameKeys));
  else if (over === 'tape') stage.part('tape', image, () => drawTape(image));
  else if (over === 'code') stage.part('code', [link.hello, image], () => drawCode(image));
  else drawWork(state, image, laid);
  if (over !== 'frame' && over !== 'tape') stage.part('foot', [laid.foot, link.fresh, ear.tones && heard], () => drawFoot(laid.foot));
  if (panel) stage.part('steps', [panel, image], () => drawSteps(panel));
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
