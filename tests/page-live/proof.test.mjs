// The touch proof: real touch events in a real browser, and what the command makes of them.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { test } from 'node:test';
import { means, pictures, until } from './served.mjs';
import { pause, Proof } from './finger.mjs';

const tapping = (state) => state.proof.target?.is !== 'mark';
const part = (judged, what) => judged.parts.find((found) => found.what === what);
const near = (found, wanted, by, what) => assert.ok(Math.abs(found - wanted) <= by, `${what}: ${found} for ${wanted}`);

// Offset, scale and turn about the image's middle, as a display may have them.
const map = ({ x_mm: x, y_mm: y }) => {
  const [right, up] = [x / 1000, (y + 632.8) / 1000];
  return { x_mm: x + 4.2 + 3.1 * right - 1.4 * up, y_mm: y - 2.7 + 1.4 * right + 2.2 * up };
};

test('a known map is found to a part of a pixel, through fractional places and another clock', async () => {
  const proof = await Proof.start(['--tool', 'rod']);
  await proof.page.screenshot({ path: `${pictures}/proof-mark.png` });
  await proof.play({ seen: map, stop: tapping });
  await proof.page.screenshot({ path: `${pictures}/proof-line.png` });
  const { judged, code, made } = await proof.enough();
  assert.equal(made.asked.length, 39);
  near(judged.map.right_mm.value, 4.2, 0.02, 'right');
  near(judged.map.up_mm.value, -2.7, 0.02, 'up');
  near(judged.map.scale_across_mm_per_m.value, 3.1, 0.02, 'scale across');
  near(judged.map.scale_down_mm_per_m.value, 2.2, 0.02, 'scale down');
  near(judged.map.turn_mm_per_m.value, 1.4, 0.02, 'turn');
  near(judged.map.shear_mm_per_m.value, 0, 0.02, 'shear');
  assert.deepEqual(judged.map.bent, []);
  // Nothing judged the gap, and not everything was done: outside is said, within never.
  assert.equal(judged.verdict, 'outside');
  assert.equal(judged.cause.is, 'gap-first');
  assert.equal(code, 1);
  // Judged again from its file it is the same.
  const again = spawnSync(process.env.SKIMGAUGE, ['prove', '--from', proof.saved, '--json'], { encoding: 'utf8' });
  assert.equal(again.status, code, again.stderr);
  const { from, ...fromFile } = JSON.parse(again.stdout);
  assert.deepEqual(fromFile, judged);
  assert.equal(from.file, proof.saved);
  assert.match(from.sha256, /^[0-9a-f]{64}$/);
  // Places came with their fractions, not rounded to whole pixels.
  const [, x, y] = made.asked[0].contacts[0].path;
  assert.ok(x % 100 !== 0 || y % 100 !== 0);
  proof.clean();
});

test('a bent mark, a miss by key, an undo, a palm and a mark out of reach', async () => {
  const proof = await Proof.start(['--tool', 'rod']);
  let taps = 0;
  await proof.play({
    stop: tapping,
    mark: async (at, state) => {
      taps += 1;
      if (taps === 1) return proof.key('o');
      if (taps === 4) return proof.key('n');
      if (taps === 8) return proof.key('u');
      const bent = Math.abs(at.x_mm - 506.25) < 1 && at.y_mm > -400;
      const scatter = ((taps * 7) % 5 - 2) * 0.2;
      const seen = { x_mm: at.x_mm + scatter, y_mm: at.y_mm - scatter + (bent ? 9 : 0) };
      // The side of a hand, low and to the right, at the same time.
      if (taps === 12) return proof.tap(seen, { x_mm: at.x_mm + 60, y_mm: at.y_mm - 90 });
      return proof.tap(seen);
    },
  });
  const { judged, made } = await proof.enough();
  assert.deepEqual(judged.map.bent.map(({ mark }) => mark), [4]);
  assert.equal(judged.seen.missed, 1);
  assert.equal(judged.seen.palms, 1);
  assert.deepEqual(made.left_out, [0]);
  assert.ok(made.asked.some(({ came }) => came === 'undone'));
  assert.equal(judged.touches_at_once, 2);
  assert.equal(judged.marks.find(({ name }) => name === 'upper right quarter').bent, true);
  proof.clean();
});

test('report rate, breaks, jitter and ten touches at once come out as they went in', async () => {
  const proof = await Proof.start();
  await proof.play({ stop: tapping });
  let lines = 0;
  const breaking = async (from, to) => {
    lines += 1;
    if (lines !== 2) return proof.line(from, to);
    // Lost in the middle of the way there.
    const there = proof.way(from, to, 100);
    await proof.draw(there.slice(0, 45));
    await proof.draw([...there.slice(55), ...proof.way(to, from, 100)]);
  };
  let holds = 0;
  let seed = 1;
  const chance = () => { seed = (seed * 16807) % 2147483647; return seed / 2147483647 - 0.5; };
  const shaking = async (at) => {
    holds += 1;
    await proof.held(at, holds === 3 ? () => [12 * chance(), 12 * chance()] : undefined);
  };
  await proof.play({ line: breaking, hold: shaking, stop: (state) => !state.proof.target });
  const spread = Array.from({ length: 10 }, (_, id) => ({ x_mm: -900 + 200 * id, y_mm: -600 }));
  // The program knows of it once the message with the lifted fingers is answered.
  const lifted = proof.page.waitForResponse((answer) => answer.url().includes('/strokes')
    && answer.request().postDataJSON().events.some(([, phase]) => phase === 2));
  await proof.tap(...spread);
  await lifted;
  const { judged } = await proof.enough();
  assert.equal(judged.touches_at_once, 10);
  for (const stroke of judged.strokes) near(stroke.reports_per_s, 100, 2, 'reports a second');
  assert.deepEqual(judged.strokes.map((stroke) => stroke.breaks_at_mm.length), [0, 1, 0, 0, 0, 0]);
  assert.deepEqual(judged.strokes.map((stroke) => stroke.jumps), [0, 0, 0, 0, 0, 0]);
  // Even from -6 to 6 mm: a standard deviation of 12 / root 12.
  near(judged.holds[2].scatter_mm, 3.46, 0.4, 'scatter');
  assert.ok(judged.holds[0].below_mm < 0.2, `${judged.holds[0].below_mm}`);
  assert.equal(part(judged, 'jitter').verdict, 'outside');
  proof.clean();
});

test('a window that is no full screen, and a mouse: said, and never within', async () => {
  const proof = await Proof.start([], { screen: { width: 1920, height: 1200 }, window: { width: 1000, height: 700 } });
  await until('the doubt', async () => (await proof.page.locator('#doubt').textContent()).includes('not full screen'));
  const number = proof.state.number;
  const { x, y } = proof.pixels(proof.state.proof.target.at);
  await proof.page.mouse.click(x, y);
  await proof.next(number);
  const { judged, code } = await proof.enough();
  assert.equal(judged.verdict, 'unsure');
  assert.match(part(judged, 'window').says, /not full screen/);
  assert.match(part(judged, 'pointer').says, /mouse/);
  assert.equal(code, 3);
  proof.clean();
});

test('a mouse is said while it clicks', async () => {
  const proof = await Proof.start();
  const number = proof.state.number;
  const { x, y } = proof.pixels(proof.state.proof.target.at);
  await proof.page.mouse.click(x, y);
  await proof.next(number);
  await until('the doubt', async () => (await proof.page.locator('#doubt').textContent()).includes('came as a mouse, not as touch'));
  // Taken back it is forgotten.
  await proof.key('u');
  await until('no doubt', () => proof.page.locator('#doubt').isHidden());
  const { judged } = await proof.enough();
  assert.equal(part(judged, 'pointer').verdict, 'within');
  proof.clean();
});

test('a page that is loaded anew goes on where it was; the phone says that it did not react', async () => {
  const proof = await Proof.start();
  let taps = 0;
  await proof.play({ stop: (state) => state.proof.done >= 3 && (taps += 1) });
  await proof.page.reload();
  await until('the mark again', async () => (await proof.page.locator('#progress').textContent()).startsWith('3 of'));
  const { phone } = await import('./served.mjs');
  const hand = await phone(proof.links.phone);
  await until('the button', async () => (await hand.page.locator('#big').textContent()) === 'It did not react');
  const number = proof.state.number;
  await means(hand.page, number);
  await hand.page.tap('#big');
  await proof.next(number);
  await hand.browser.close();
  await proof.play({ stop: (state) => state.proof.done >= 6 });
  const { judged, made } = await proof.enough();
  assert.equal(judged.seen.missed, 1);
  assert.equal(made.asked.length, 6);
  proof.clean();
});

test('a minute of ghosts is counted, joined dashes are a plane too high', async () => {
  const proof = await Proof.start();
  await proof.play({
    seen: ({ x_mm, y_mm }) => ({ x_mm, y_mm: y_mm - 6 }),
    hold: () => proof.key('o'),
    line: () => proof.key('o'),
    off: async () => {
      await until('the minute has begun', () => proof.state.proof.left_s < 59);
      for (let n = 0; n < 9; n += 1) {
        await proof.tap({ x_mm: -700 + 150 * n, y_mm: -300 - 60 * n });
        await pause(200);
      }
    },
    dashes: (at) => proof.dashes(at, at.x_mm > 0 && at.y_mm < -600 ? 5 : 0),
    stop: (state) => state.proof.target?.is === 'line' && state.proof.done > 41,
  });
  const { judged, code } = await proof.enough();
  assert.equal(judged.quiet.ghosts, 9);
  assert.equal(part(judged, 'ghosts').verdict, 'outside');
  const joined = judged.dashes.map(({ mark, drawn, seen }) => [mark, drawn - seen]);
  assert.deepEqual(joined, [[0, 0], [2, 0], [12, 5], [10, 0]]);
  assert.equal(judged.cause.is, 'plane-too-high');
  assert.deepEqual(judged.cause.places, ['bottom right']);
  assert.equal(code, 1);
  proof.clean();
});
