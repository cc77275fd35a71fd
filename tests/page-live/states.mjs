// States of a trim, in the form that a page gets (host/page/src/shown.rs).

const judged = {
  within: { is: 'within', says: 'within', shape: '●' },
  outside: { is: 'outside', says: 'outside', shape: '✕' },
  unsure: { is: 'unsure', says: 'too close to call', shape: '◐' },
};

export const IMAGE = { width_mm: 2025, height_mm: 1265.6 };
const [X, Y] = [IMAGE.width_mm / 2, -IMAGE.height_mm];

const PLACES = [
  ['top left', -X, 0], ['top', 0, 0], ['top right', X, 0], ['right', X, Y / 2],
  ['bottom right', X, Y], ['bottom', 0, Y], ['bottom left', -X, Y], ['left', -X, Y / 2],
];

const taken = { 'top left': ['5.90', 'outside'], top: ['4.03', 'unsure'], 'top right': ['1.02', 'unsure'], right: ['2.40', 'within'] };

export function stations(here, takes = taken) {
  return PLACES.map(([name, x, y], index) => {
    const [gap, verdict] = takes[name] ?? [];
    return { name, at: [x, y], index, here: name === here, gap: gap ?? null, verdict: judged[verdict] ?? null };
  });
}

export function adjusters(turn = null) {
  return [['left', -100, 80], ['right', 100, 80], ['upper', 0, 140]].map(([name, x, y]) => (
    { name, at: [x, y], turn: turn && turn.name === name ? turn.turn : null }
  ));
}

// A plane, of which the lower right is not known.
export function field() {
  const [columns, rows] = [33, 21];
  const gaps = [];
  for (let row = 0; row < rows; row += 1) {
    for (let column = 0; column < columns; column += 1) {
      const hidden = column > 22 && row > 12;
      gaps.push(hidden ? null : Number((5.9 - 0.15 * column + 0.05 * row).toFixed(2)));
    }
  }
  const levels = [1, 2, 3, 4].map((gap) => ({ gap_mm: gap, says: gap.toFixed(2), limit: gap === 1 || gap === 4 }));
  return { columns, rows, gaps_mm: gaps, levels };
}

export function take(more = {}) {
  return {
    number: 7,
    title: 'practice wall',
    units: 'mm',
    image: IMAGE,
    state: 'ready',
    state_says: 'ready',
    instruction: 'clip the head on at bottom right, and take',
    question: null,
    message: null,
    trouble: null,
    gap: { name: 'gap', digits: '2.35', unit: 'mm', is: 'good', why: null, verdict: judged.within },
    tilts: [],
    aim: null,
    place: { called: 'bottom right', at: [X, Y], still_at: null },
    stations: stations('bottom right'),
    adjusters: adjusters(),
    spots: [],
    field: field(),
    whole: null,
    lines: ['round 1, about 4 min to go'],
    words: [
      { word: 'take', does: 'take bottom right' },
      { word: 'redo', does: 'take right again' },
      { word: 'more', does: 'one more seat' },
      { word: 'next', does: 'next station' },
      { word: 'back', does: 'station before' },
    ],
    cautions: ['Invisible light: do not look in.', 'Turn gently.', 'Ladder: three points of contact.'],
    tone: { off_mm: 0, is: 'within' },
    lengths: [],
    marks: [],
    ...more,
  };
}

export function turn(share = 0.6, more = {}) {
  const toGo = 0.5 * (1 - share);
  const there = share >= 1;
  return take({
    number: 12,
    state: 'turn',
    state_says: 'turn',
    instruction: 'turn left half a turn anticlockwise, until top left reads 5.40 mm',
    gap: { name: 'gap', digits: (5.4 + toGo).toFixed(2), unit: 'mm', is: 'good', why: null, verdict: judged.outside },
    aim: { to: '5.40 mm', to_go: `${toGo.toFixed(2)} mm`, to_go_mm: -toGo, within_mm: 0.05, share, there },
    place: { called: 'top left', at: [-X, 0], still_at: null },
    stations: stations('top left', { ...taken, bottom: ['3.00', 'within'], left: ['5.10', 'outside'] }),
    adjusters: adjusters({ name: 'left', turn: { clockwise: false, says: 'half a turn anticlockwise', left: -0.5 * (1 - share), of: -0.5 } }),
    words: [
      { word: 'ready', does: 'turned as told' },
      { word: { turned: null }, does: 'turned as told, gap not there' },
      { word: 'back', does: 'undo the last turn' },
    ],
    whole: { verdict: judged.outside, headline: 'outside', because: 'top left 1.90 mm above the band' },
    tone: { off_mm: toGo, is: there ? 'stop' : 'off' },
    ...more,
  });
}

export function asked() {
  return take({
    number: 20,
    state: 'asked',
    state_says: 'answer',
    question: { asks: 'will the adjuster left not go further?', yes: 'yes' },
    words: [{ word: 'yes', does: 'yes' }, { word: 'no', does: 'no' }],
  });
}

export function doubtful() {
  return take({
    number: 21,
    state: 'hold',
    state_says: 'hold still',
    gap: { name: 'gap', digits: '2.35?', unit: 'mm', is: 'doubtful', why: 'head moves', verdict: null },
    trouble: { says: 'The head moves. Let go of it, and wait.', bad: true },
    tone: null,
  });
}

export function inch(state) {
  return { ...state, units: 'in', gap: { ...state.gap, digits: '0.093', unit: 'in' } };
}

// A set-out: its second point is to be marked; two lie above the image.
export function marking(more = {}) {
  const points = [['crossing', 0, 0], ['image top left', -X, 0], ['image top right', X, 0], ['image bottom right', X, Y], ['image bottom left', -X, Y], ['emitter left end', -110, 75], ['centre plate middle', 0, 260]];
  return take({
    ...without(31),
    instruction: 'mark image top left: 1012 mm left of the plumb line, on the level line',
    lines: ['1 of 7 points marked', 'check: 1012 mm to crossing'],
    marks: points.map(([name, x, y], index) => ({ name, at: [x, y], now: index === 1, done: index < 1 })),
    words: [{ word: 'next', does: 'image top left is marked: next' }, { word: 'back', does: 'point before' }, { word: 'quit', does: 'end' }],
    ...more,
  });
}

// A tape's six lengths: three are taped.
export function taping(more = {}) {
  const [a, b, c, d] = [[-X, 0], [X, 0], [X, Y], [-X, Y]];
  const spans = [['top', 'top side', a, b, '2024 mm'], ['right', 'right side', b, c, '1266 mm'], ['bottom', 'bottom side', c, d, '2031 mm'], ['left', 'left side', d, a, null], ['falling', 'diagonal from top left to bottom right', a, c, null], ['rising', 'diagonal from top right to bottom left', b, d, null]];
  return take({
    ...without(33),
    instruction: 'tape the left side (3 to go)',
    lines: ['tape: nothing checks it yet', '1. trapezoid: narrow the bottom'],
    lengths: spans.map(([name, called, from, to, taped], index) => ({ name, called, from, to, taped, now: index === 3 })),
    words: [{ word: 'next', does: 'next length' }, { word: 'back', does: 'length before' }, { word: 'quit', does: 'end; what was taped is kept' }],
    ...more,
  });
}

function without(number) {
  return { number, gap: { name: 'gap', digits: '–', unit: '', is: 'absent', why: 'no head is needed', verdict: null }, place: null, stations: [], adjusters: [], field: null, tone: null };
}

// A survey: points all over the board, the fourth is next.
export function survey(more = {}) {
  const at = [];
  for (let row = 0; row < 3; row += 1) for (let column = 0; column < 4; column += 1) at.push([-900 + 600 * column, -60 - 560 * row]);
  const stations = at.map((place, index) => ({ name: `${index + 1} at ${place[0]}, ${place[1]}`, at: place, index, here: index === 3, gap: index < 3 ? '2.40' : null, verdict: null }));
  return take({ number: 41, stations, place: { called: stations[3].name, at: at[3], still_at: null }, adjusters: [], field: null, lines: ['3 of 12 points taken'], instruction: 'put the head at 4 at 900, -60', ...more });
}
