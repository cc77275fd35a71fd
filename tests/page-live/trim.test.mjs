// A whole trim in the simulated room, from the first clip to the verdict.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { BOARD, fullScreen, phone, pictures, until } from './served.mjs';
import { Work } from './work.mjs';

// Each take in the record says by which page its word came.
async function saidBy(work, page) {
  const takes = await work.takes();
  assert.ok(takes.length >= 8);
  assert.deepEqual([...new Set(takes.map(({ by }) => by))], [page]);
}

test('by touch, from the phone', async () => {
  const work = await Work.start();
  const { browser, context, page } = await phone(work.links.phone);
  const requests = [];
  context.on('request', (request) => requests.push(request.url()));
  await page.waitForSelector('#gap.good');
  let shots = 0;
  const end = await work.play({
    say: () => page.tap('#big', { timeout: 3000 }).catch(() => {}),
    yes: () => page.tap('#yes', { timeout: 3000 }).catch(() => {}),
    each: async ({ state }) => {
      if (state?.aim && shots < 1) {
        shots += 1;
        await page.waitForTimeout(200);
        await page.screenshot({ path: `${pictures}/trim-phone.png` });
      }
    },
  });
  // Of a board that nobody surveyed: within, or too close to call with what would settle it.
  assert.ok(['within', 'unsure'].includes(end.whole.verdict.is), end.whole.headline);
  await page.screenshot({ path: `${pictures}/trim-phone-end.png` });
  const { origin } = new URL(work.links.phone);
  assert.ok(requests.every((url) => url.startsWith(`${origin}/`)));
  assert.ok(work.trim.lines.some((line) => line.includes('phone on this computer: take')), 'the terminal says who said what');
  await saidBy(work, 'phone on this computer');
  await browser.close();
  await work.stop();
});

test('by keyboard, from the board page, while ghost touches fall on it', async () => {
  const work = await Work.start();
  const { browser, page, cdp } = await fullScreen(work.links.board);
  await page.waitForSelector('#gap');
  let storms = true;
  let fell = 0;
  const storm = (async () => {
    while (storms) {
      const from = Date.now();
      const touches = Array.from({ length: 10 }, (_, id) => ({ x: (fell * 97 + id * 191) % BOARD.width, y: (fell * 53 + id * 113) % BOARD.height, id }));
      await Promise.all([
        cdp.send('Input.dispatchTouchEvent', { type: 'touchStart', touchPoints: touches }),
        cdp.send('Input.dispatchTouchEvent', { type: 'touchEnd', touchPoints: [] }),
      ]);
      fell += touches.length;
      // Two hundred a second.
      await new Promise((done) => setTimeout(done, Math.max(0, 50 - (Date.now() - from))));
    }
  })();
  // Nothing is taken by a touch: the first ten seconds nobody says a word.
  await until('two thousand touches', () => fell >= 2000);
  assert.ok(work.state.stations.every(({ gap }) => gap === null), 'nothing was taken');
  assert.ok(!work.trim.lines.some((line) => line.includes('board page on this computer:')));
  let shots = 0;
  const end = await work.play({
    say: () => page.keyboard.press('Enter'),
    yes: () => page.keyboard.press('Enter'),
    each: async ({ state }) => {
      if (state?.aim && state.field && shots < 1) {
        shots += 1;
        await page.screenshot({ path: `${pictures}/trim-board.png` });
      }
    },
  });
  storms = false;
  await storm;
  // Of a board that nobody surveyed: within, or too close to call with what would settle it.
  assert.ok(['within', 'unsure'].includes(end.whole.verdict.is), end.whole.headline);
  await page.screenshot({ path: `${pictures}/trim-board-end.png` });
  console.log(`# ${fell} touches fell`);
  await saidBy(work, 'board page on this computer');
  await browser.close();
  await work.stop();
});
