// The proof: what is to be touched is drawn at its true place; every report of every contact goes to
// the program as the browser tells it. Nothing is worked out here, and where touch was seen is never
// shown: whoever sees that aims at it.

import { Announcer, told } from './announce.js';
import { Link } from './link.js';
import { text, verdictClass } from './drawn.js';

const SVG = 'http://www.w3.org/2000/svg';
const at = (id) => document.getElementById(id);
const KINDS = { touch: 0, mouse: 1, pen: 2 };
// A message to the program carries at most so many reports: well below 64 KiB.
const MOST = 500;
const EVERY_MS = 150;
const KEYS = { n: 'missed', u: 'redo', o: 'skip', p: 'pause', ' ': 'ready', Enter: 'ready' };

const link = new Link('board', 'mm', show);
const announcer = new Announcer((says) => text(at('in-words'), says));

// What a window says of itself. A page at an address that the browser does not trust is not told
// every report.
function windowNow() {
  const view = window.visualViewport;
  return {
    width: innerWidth,
    height: innerHeight,
    screen_width: screen.width,
    screen_height: screen.height,
    scale: view ? view.scale : 1,
    left: view ? view.offsetLeft : 0,
    top: view ? view.offsetTop : 0,
    secure: isSecureContext && 'getCoalescedEvents' in PointerEvent.prototype,
  };
}

const clock = (stamp) => performance.timeOrigin + stamp;

let waiting = [];
let windowTold = '';
let busy = false;
const down = new Set();

function note(phase, event) {
  waiting.push([
    Math.round(clock(event.timeStamp) * 10) / 10,
    phase,
    event.pointerId,
    event.clientX,
    event.clientY,
    event.width,
    event.pressure,
    KINDS[event.pointerType] ?? 1,
  ]);
}

function moved(event) {
  if (!down.has(event.pointerId)) return;
  const all = event.getCoalescedEvents?.() ?? [];
  for (const one of all.length ? all : [event]) note(1, one);
}

const stage = at('stage');
addEventListener('pointerdown', (event) => {
  event.preventDefault();
  stage.setPointerCapture?.(event.pointerId);
  down.add(event.pointerId);
  note(0, event);
}, { passive: false });
addEventListener('pointermove', moved, { passive: false });
for (const [name, phase] of [['pointerup', 2], ['pointercancel', 3]]) {
  addEventListener(name, (event) => {
    if (down.delete(event.pointerId)) note(phase, event);
  }, { passive: false });
}
for (const name of ['contextmenu', 'touchstart', 'touchmove', 'gesturestart', 'dragstart', 'wheel']) {
  addEventListener(name, (event) => event.preventDefault(), { passive: false });
}

// In order, one message after the other; what could not be sent is sent again.
async function send() {
  if (busy || link.hello?.may !== 'acts') return;
  const now = windowNow();
  const known = JSON.stringify(now);
  if (waiting.length === 0 && known === windowTold) return;
  busy = true;
  const events = waiting.slice(0, MOST);
  const body = { sent_ms: clock(performance.now()), events };
  if (known !== windowTold) body.window = now;
  const refused = await link.post('/strokes', body);
  if (!refused) {
    waiting = waiting.slice(events.length);
    windowTold = known;
  }
  text(at('lost'), refused);
  at('lost').hidden = !refused;
  busy = false;
  // What came meanwhile does not wait.
  if (!refused && waiting.length) send();
}
setInterval(send, EVERY_MS);

function make(name, attributes, kind) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (kind) made.setAttribute('class', kind);
  stage.append(made);
  return made;
}

// Long hairs from the aim outward: a hand hides the aim, never all of their ends.
function aim({ x_mm: x, y_mm: y }, ring) {
  const [near, far] = [9, 130];
  for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
    make('line', { x1: x + dx * near, y1: -y + dy * near, x2: x + dx * far, y2: -y + dy * far }, 'hair');
  }
  for (const radius of ring) make('circle', { cx: x, cy: -y, r: radius }, 'ring');
  make('circle', { cx: x, cy: -y, r: 2.5 }, 'dot');
}

function line({ from, to }) {
  const ends = { x1: from.x_mm, y1: -from.y_mm, x2: to.x_mm, y2: -to.y_mm };
  make('line', { ...ends, 'stroke-dasharray': '14 8' }, 'way');
  make('circle', { cx: from.x_mm, cy: -from.y_mm, r: 22 }, 'ring');
  make('circle', { cx: from.x_mm, cy: -from.y_mm, r: 8 }, 'dot');
  make('circle', { cx: to.x_mm, cy: -to.y_mm, r: 22 }, 'ring');
}

function draw({ image, proof }) {
  const { width_mm: width, height_mm: height } = image;
  stage.setAttribute('viewBox', `${-width / 2} 0 ${width} ${height}`);
  stage.replaceChildren();
  if (proof.state === 'over') return;
  for (const { at: where, taps, left_out: out } of proof.marks) {
    if (out) {
      const { x_mm: x, y_mm: y } = where;
      make('path', { d: `M${x - 6} ${-y - 6}l12 12m0 -12l-12 12` }, 'out');
    }
    for (let tap = 0; tap < taps; tap += 1) {
      make('circle', { cx: where.x_mm + (tap - 1) * 9, cy: -where.y_mm - 22, r: 3 }, 'done');
    }
  }
  const { target } = proof;
  if (target?.is === 'line') line(target);
  else if (target?.is === 'mark') aim(target.at, [14]);
  else if (target?.is === 'hold') aim(target.at, [14, 26]);
  else if (target?.is === 'dashes') {
    for (let at_ = 0; at_ < 10; at_ += 1) {
      const y = -target.at.y_mm - 36 + at_ * 8;
      make('line', { x1: target.at.x_mm - 35, y1: y, x2: target.at.x_mm + 35, y2: y }, 'hair');
    }
  } else if (target?.is === 'leaf') {
    // At a station on the edge it lies just inside, where it is seen whole.
    const inside = (at_, least, most) => Math.min(Math.max(at_, least), most);
    const x = inside(target.at.x_mm, 31 - width / 2, width / 2 - 31) - 30;
    const y = inside(-target.at.y_mm, 11, height - 11) - 10;
    make('rect', { x, y, width: 60, height: 20 }, 'ring');
  }
}

// Words keep out of the way of what is to be touched: beside an upright or slanting line, else in
// the half of the screen where it is not.
function where({ image, proof: { target } }) {
  if (!target) return '';
  const down = (place) => -place.y_mm / image.height_mm;
  if (target.is === 'line') {
    const [from, to] = [target.from, target.to];
    if (from.y_mm === to.y_mm) return down(from) < 0.25 || down(from) > 0.6 ? '' : 'low';
    if (from.x_mm === to.x_mm) return from.x_mm === 0 ? 'left' : '';
    return from.x_mm < to.x_mm ? 'right' : 'left';
  }
  return down(target.at) < 0.45 ? 'low' : '';
}

function list(of, items) {
  at(of).replaceChildren(...items.map(({ verdict, says }) => {
    const item = document.createElement('li');
    item.textContent = verdict ? `${verdict.shape} ${says}` : says;
    if (verdict) item.className = verdictClass(verdict);
    return item;
  }));
}

function over({ whole, proof }) {
  at('over').hidden = !whole;
  if (!whole) return;
  text(at('verdict'), `${whole.verdict.shape} ${whole.headline}`);
  at('verdict').className = verdictClass(whole.verdict);
  text(at('because'), whole.because);
  list('next', proof.next.map((says) => ({ says })));
  list('parts', proof.parts);
  list('told', proof.told.map((says) => ({ says })));
}

// What was refused stands for a while in place of what was said last.
const REFUSED_MS = 5000;
let notDone = '';
let refusedUntil = 0;

function refuse(says) {
  notDone = says;
  refusedUntil = performance.now() + REFUSED_MS;
  setTimeout(show, REFUSED_MS);
  show();
}

function messageOf({ message }) {
  return notDone && performance.now() < refusedUntil ? { says: notDone, bad: true } : message;
}

// What is heard: what there is to do, and how it went. Doubts and a lost connection are alerts, heard by
// themselves; how many taps are done, and what is left of a minute, would never be silent.
function hearable(state) {
  const { link: _, ...parts } = told(link, { ...state, message: messageOf(state), trouble: null });
  return { ...parts, because: state.whole?.because ?? '' };
}

let drawn = '';
function show() {
  const { state } = link;
  if (link.is === 'refused' || link.is === 'lost') {
    text(at('lost'), link.says || 'The program is not reached: what touches now is kept here and sent later.');
    at('lost').hidden = false;
  } else if (!busy) {
    at('lost').hidden = true;
  }
  if (!state?.proof) return;
  link.draws(state);
  const { proof } = state;
  const key = JSON.stringify([state.number, proof.target, proof.marks, proof.state]);
  if (key !== drawn) {
    drawn = key;
    draw(state);
  }
  text(at('instruction'), state.instruction);
  const message = messageOf(state);
  text(at('message'), message?.says ?? '');
  at('message').className = message?.bad ? 'outside' : '';
  const left = proof.left_s === null ? '' : `; ${proof.left_s} s`;
  text(at('progress'), `${proof.done} of ${proof.of}${left}`);
  const offered = (word) => state.words.find((offer) => offer.word === word);
  const keys = [['n', 'missed'], ['u', 'redo'], ['o', 'skip'], ['p', 'pause'], ['space', 'ready']];
  text(at('keys'), keys.filter(([, word]) => offered(word)).map(([name, word]) => `${name}: ${offered(word).does}`).join(' · '));
  at('words').className = where(state);
  at('says').hidden = proof.state === 'over';
  at('doubt').hidden = !proof.doubt || proof.state === 'over';
  text(at('doubt'), proof.doubt ?? '');
  over(state);
  announcer.hear(hearable(state));
}

addEventListener('keydown', (event) => {
  if (event.repeat || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === 'f') {
    if (document.fullscreenElement) document.exitFullscreen();
    else document.documentElement.requestFullscreen?.().catch(() => {});
    return;
  }
  const word = KEYS[event.key];
  const offered = link.state?.words.some((offer) => offer.word === word);
  if (word && offered) {
    event.preventDefault();
    link.say(word).then(refuse);
  }
});
