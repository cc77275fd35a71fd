// What stands on the board page stands apart, whatever there is to say and wherever the head hangs: on boards
// of several sizes, in every station's place, with the longest words of a trim.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { draws, fullScreen, pictures, Served } from './served.mjs';
import { adjusters, field, marking, stations, survey, take, taping, turn } from './states.mjs';

// Boards of 94, 87 and 77 inches across the corners, 16 to 10, and one of 16 to 9 (sums); on one the corners'
// stations are as far inside as the demonstration's.
const SIZES = [[2025, 1265.6, 0], [2025, 1265.6, 60], [1874, 1171, 0], [1658, 1036, 0], [2082, 1171, 0]];

const CAUTIONS = ["Invisible light: follow the emitter's label. Ladder: three points of contact. Turn gently, never past the first resistance; the emitter's maker says what may be turned."];
const TROUBLE = { says: 'The sheet of light stands too near to the board, or too far from it, for the eye to see all of it. Turn the adjuster until the head sees it again.', bad: true };
const BY_COUNT = 'turn upper anticlockwise ↺, a little over 1 turn and seven eighths (1.9 turns), by count, then say that it is made';
const JUDGED = { is: 'unsure', says: 'too close to call', shape: '◐' };

function scaled(state, [width_mm, height_mm, inside]) {
  const [across, along] = [width_mm / 2025, height_mm / 1265.6];
  const most = width_mm / 2 - inside;
  const at = (one) => ({ ...one, at: [Math.min(Math.max(one.at[0] * across, -most), most), one.at[1] * along] });
  const end = ([x, y]) => [x * across, y * along];
  return {
    ...state,
    image: { width_mm, height_mm },
    place: state.place?.at ? at(state.place) : state.place,
    stations: state.stations.map(at),
    marks: state.marks.map((mark) => (mark.at[1] > 0 ? mark : at(mark))),
    lengths: state.lengths.map((length) => ({ ...length, from: end(length.from), to: end(length.to) })),
  };
}

// Every station taken but for the one where the head hangs, or that one, too.
function standing(here, all) {
  const taken = Object.fromEntries(stations('').map(({ name }) => [name, ['0.123', 'unsure']]));
  if (!all) delete taken[here];
  const place = stations(here).find((station) => station.here);
  return { stations: stations(here, taken), place: place && { called: here, at: place.at, still_at: null } };
}

function states() {
  const found = [];
  for (const { name } of stations('')) {
    found.push([`take at ${name}`, take({ ...standing(name, false), message: { says: 'bottom right: 2.41 mm taken', bad: false }, whole: { verdict: JUDGED, headline: 'too close to call', because: '' } })]);
    for (const adjuster of ['left', 'upper', 'right']) {
      const says = 'a little over 1 turn and seven eighths anticlockwise';
      const by = { name: adjuster, turn: { clockwise: false, says, left: -1.9, of: -1.9 } };
      found.push([`${adjuster} by count at ${name}`, turn(0.5, { ...standing(name, true), aim: null, instruction: BY_COUNT, adjusters: adjusters(by), trouble: TROUBLE })]);
      found.push([`${adjuster} by the gap at ${name}`, turn(0.5, { ...standing(name, true), adjusters: adjusters(by) })]);
    }
  }
  const tilts = [['level', '0.09'], ['lean', '-0.16']].map(([called, digits]) => ({ name: called, digits, unit: '°', is: 'good', why: null, verdict: null }));
  const emitter = { place: { called: 'emitter', at: null, still_at: null }, stations: standing('', true).stations, tilts };
  found.push(['on the emitter', take({ ...emitter, gap: { ...take().gap, digits: '–', is: 'absent', why: 'laser spot lost', verdict: null } })]);
  found.push(['over', take({ ...emitter, state: 'over', instruction: 'done: nothing more to turn', message: { says: 'emitter: tilt taken', bad: false }, whole: { verdict: JUDGED, headline: 'too close to call', because: '' } })]);
  found.push(['trouble', take({ trouble: TROUBLE, gap: { ...take().gap, digits: '2.35?', is: 'doubtful', why: 'head not seated', verdict: null } })]);
  const points = [];
  for (let row = 0; row < 5; row += 1) for (let column = 0; column < 9; column += 1) points.push([-972 + 243 * column, -40 - 296 * row]);
  const named = ([x, y]) => `${Math.abs(x)} ${x < 0 ? 'left' : 'right'}, ${-y} down`;
  for (const here of [0, 4, 13, 22, 31, 40, 44]) {
    const all = points.map((at, index) => ({ name: named(at), at, index, here: index === here, gap: index < here ? '2.40' : null, verdict: null }));
    found.push([`survey, point ${here}`, survey({ stations: all, place: { called: named(points[here]), at: points[here], still_at: null }, instruction: `put the head at ${named(points[here])}` })]);
  }
  for (let now = 0; now < 7; now += 1) found.push([`mark ${now}`, marking({ marks: marking().marks.map((mark, index) => ({ ...mark, now: index === now, done: index < now })) })]);
  for (let now = 0; now < 6; now += 1) found.push([`length ${now}`, taping({ lengths: taping().lengths.map((length, index) => ({ ...length, now: index === now, taped: index < now ? '2024 mm' : null })) })]);
  return found;
}

// Texts that lie over one another, over the foot or over the head, and what is cut by the edge.
function faults() {
  const texts = [...document.querySelectorAll('#stage text')].filter((text) => text.textContent.trim()).map((text) => {
    const { left, right, top, bottom } = text.getBoundingClientRect();
    // Of a line's box the uppermost and lowest fifth are bare.
    const bare = (bottom - top) / 5;
    return { part: text.closest('#stage > *').id || text.closest('#stage > *').getAttribute('class'), group: text.parentElement, says: text.textContent, left, right, top: top + bare, bottom: bottom - bare };
  });
  const meet = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
  const found = [];
  texts.forEach((a, at) => texts.slice(at + 1).forEach((b) => { if (meet(a, b)) found.push(`${a.part} "${a.says}" over ${b.part} "${b.says}"`); }));
  for (const [name, box] of [['foot', '#foot rect'], ['head', '#head .head']]) {
    const area = document.querySelector(box)?.getBoundingClientRect();
    if (area) found.push(...texts.filter((text) => text.part !== name && meet(text, area)).map(({ part, says }) => `${part} "${says}" over the ${name}`));
  }
  found.push(...texts.filter(({ left, right, top, bottom }) => left < -1 || right > innerWidth + 1 || top < -8 || bottom > innerHeight + 1).map(({ part, says }) => `${part} "${says}" is cut`));
  return found;
}

test('nothing that is written lies over anything else, and all of it is on the screen', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await fullScreen(served.links.board);
  await page.waitForSelector('#gap');
  const wrong = [];
  let number = 1000;
  for (const size of SIZES) {
    for (const [name, state] of states()) {
      number += 1;
      served.show(scaled({ ...state, number, cautions: CAUTIONS, field: state.field && field() }, size));
      await draws(page, number);
      const found = await page.evaluate(faults);
      const says = (state.question?.asks ?? state.instruction).replace(/\s/g, '');
      const shown = (await page.locator('#words').textContent()).replace(/\s/g, '');
      if (!shown.startsWith(says)) found.push(`the instruction is not whole: ${shown}`);
      if (state.whole && !shown.includes(state.whole.headline.replace(/\s/g, ''))) found.push(`the verdict is not there: ${shown}`);
      if (found.length) {
        wrong.push(`${size}: ${name}: ${found.join('; ')}`);
        await page.screenshot({ path: `${pictures}/layout-${size.join('-')}-${name.replace(/\W+/g, '-')}.png` });
      }
    }
  }
  assert.deepEqual(wrong, []);
  await browser.close();
  await served.stop();
});
