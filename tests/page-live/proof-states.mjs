// States of a proof, in the form that its page gets (host/page/src/proof.rs).

import { IMAGE, take } from './states.mjs';

const judged = {
  within: { is: 'within', says: 'within', shape: '●' },
  outside: { is: 'outside', says: 'outside', shape: '✕' },
  unsure: { is: 'unsure', says: 'too close to call', shape: '◐' },
};
const [X, Y] = [IMAGE.width_mm / 2, -IMAGE.height_mm];
const place = (across, down) => ({ x_mm: 2 * X * across, y_mm: Y * (0.5 + down) });
const AT = [
  [-0.45, -0.45], [0, -0.45], [0.45, -0.45], [-0.25, -0.25], [0.25, -0.25], [-0.45, 0], [0, 0],
  [0.45, 0], [-0.25, 0.25], [0.25, 0.25], [-0.45, 0.45], [0, 0.45], [0.45, 0.45],
].map(([across, down]) => place(across, down));
const marks = AT.map((at, mark) => ({ at, taps: mark < 7 ? 2 : 1, left_out: mark === 2 }));

const touching = [
  { word: 'missed', does: 'it did not react' },
  { word: 'skip', does: 'out of reach: leave it out' },
  { word: 'redo', does: 'undo the last one' },
  { word: 'pause', does: 'pause' },
  { word: 'quit', does: 'end with what there is' },
];

function proof(number, instruction, drawn, more = {}) {
  return take({
    number,
    state: 'ready',
    state_says: 'touch',
    instruction,
    gap: { name: 'touch', digits: '20/51', unit: '', is: 'good', why: null, verdict: null },
    tone: null, place: null, stations: [], adjusters: [], field: null,
    lines: ['20 of 51 done'],
    words: touching,
    ...more,
    proof: { state: 'touch', target: null, marks, done: 20, of: 51, left_s: null, doubt: null, parts: [], places: [], next: [], told: [], ...drawn },
  });
}

const PARTS = [
  ['within', 'The page fills the screen.'],
  ['outside', 'Touch stands 13.4 ± 4.9 mm off at bottom right, 10.0 mm are allowed by finger.'],
  ['within', '0 of 50 touches were not seen: fewer than 5.8 %, 10 % are allowed.'],
  ['unsure', 'Hands off for 60 s: 1 contacts, fewer than 4.7 a minute.'],
  ['within', 'Held still at top left: scatter below 0.42 mm, 1.0 mm is allowed.'],
  ['within', '0 breaks and jumps in 18.8 m of lines: fewer than 0.16 a metre.'],
  ['within', 'Of 10 quick dashes at top left 0 ran into the one before.'],
  ['unsure', 'The leaf contradicts the head at bottom right.'],
  ['unsure', '12 contacts came as a mouse: not told apart from one at the computer, and one contact at a time.'],
  ['within', 'Everything asked was done.'],
  ['unsure', 'An adjuster was turned after the gap was judged.'],
].map(([is, says]) => ({ verdict: judged[is], says }));

const NEXT = [
  'Bring the gap within first: a touch plane that stands off looks like touch that stands off, and the display’s own settings would only hide it.',
  'Prove with the rod (--tool rod): by finger the aim alone leaves 3.9 mm uncertain.',
];
const TOLD = [
  'The display reports 100 times a second.',
  'Latency cannot be measured from a page.',
  'Up to 2 touches at once were seen.',
  '3 contacts beside the asked ones (sides of hands) were counted.',
  'Top left was left out as out of reach.',
  'Top right was left out as out of reach.',
  'A line bows by 4.2 mm at 40 % of its way, there and back alike.',
  'A bend of less than about 8.8 mm at a single mark may not have shown.',
  '2 contacts came in pauses.',
];

function over(number, is, drawn = {}) {
  return proof(number, '', { state: 'over', done: 63, of: 63, parts: PARTS, next: NEXT, told: TOLD, ...drawn }, {
    state: 'over',
    state_says: 'done',
    whole: { verdict: judged[is], headline: `touch: ${judged[is].says}`, because: PARTS[1].says },
    words: [{ word: 'quit', does: 'end' }],
  });
}

const mark = (at) => ({ target: { is: 'mark', at: AT[at] } });
const says = (name) => `Tap the mark at ${name} with the finger.`;

export const STATES = {
  waiting: proof(101, 'Open the proof’s page on the computer that the display’s touch is plugged into.', { state: 'waiting' }),
  'mark-corner': proof(102, says('top left'), mark(0)),
  'mark-top': proof(103, says('top'), mark(1)),
  'mark-centre': proof(104, says('centre'), mark(6)),
  'mark-quarter': proof(105, says('lower left quarter'), mark(8)),
  'mark-upper-quarter': proof(106, says('upper right quarter'), mark(4)),
  message: proof(107, says('bottom'), mark(11), {
    message: { says: 'Noted: the display does not react there. On to the next.', bad: true },
  }),
  'line-across': proof(108, 'Draw along the line to its other end and back, in one go, at an even pace.', {
    target: { is: 'line', from: AT[5], to: AT[7] },
  }),
  'line-down': proof(109, 'Draw along the line to its other end and back, in one go, at an even pace.', {
    target: { is: 'line', from: AT[1], to: AT[11] },
  }),
  diagonal: proof(110, 'Draw along the line to its other end and back, in one go, at an even pace.', {
    target: { is: 'line', from: AT[0], to: AT[12] },
  }),
  hold: proof(111, 'Press the mark at centre and hold still until it says so.', { target: { is: 'hold', at: AT[6] } }),
  'hands-off': proof(112, 'Hands off: touch nothing, stand clear, for a minute.', { state: 'hands-off', left_s: 43 }),
  dashes: proof(113, 'At bottom right: ten quick dashes side by side, lifting a little between them; then say that ten are drawn.', {
    target: { is: 'dashes', at: AT[12] },
  }),
  leaf: proof(114, 'Lay the leaf of 2.0 mm flat at right, take the hand away, then say that it lies.', {
    state: 'lay', target: { is: 'leaf', at: { x_mm: X, y_mm: Y / 2 } },
  }, { words: [{ word: 'ready', does: 'it lies' }, { word: 'skip', does: 'leave it out' }] }),
  paused: proof(115, 'Pause: what touches now does not count.', { state: 'paused' }, {
    words: [{ word: 'ready', does: 'go on' }, { word: 'quit', does: 'end with what there is' }],
  }),
  'not-full-screen': proof(116, says('top left'), {
    ...mark(0), doubt: 'The page is not full screen: press F, or F11, and take page zoom back to 100 %.',
  }),
  // Its cursor can be seen then, and what it says stands over the work.
  mouse: proof(120, says('top right'), {
    ...mark(2),
    doubt: 'A contact came as a mouse, not as touch: put a mouse aside, else install what the display’s maker gives for touch; with it the proof is never within.',
  }),
  within: over(117, 'within', { next: [], told: TOLD.slice(1, 3) }),
  outside: over(118, 'outside'),
  'too-close': over(119, 'unsure'),
};
