// What a screen reader is told by the pages: everything in them that speaks by itself (a status, an alert,
// anything live) is listened to, while digits, counts and a minute run on.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { draws, fullScreen, phone, Served, until } from './served.mjs';
import { STATES } from './proof-states.mjs';
import { asked, take } from './states.mjs';

const LIVE = '[role=status], [role=alert], [role=log], [role=timer], [aria-live]:not([aria-live=off])';

// What was spoken, from now on: what such a part then holds, whenever it has changed.
async function listens(page) {
  await page.evaluate((live) => {
    window.spoken = [];
    new MutationObserver((changes) => {
      const spoke = new Set(changes.map(({ target }) => (target.closest ? target : target.parentElement)?.closest(live)).filter(Boolean));
      for (const part of spoke) {
        const says = part.textContent.replace(/\s+/g, ' ').trim();
        if (says && !part.closest('[hidden]')) window.spoken.push(says);
      }
    }).observe(document.body, { subtree: true, childList: true, characterData: true });
  }, LIVE);
  return () => page.evaluate(() => window.spoken);
}

const speaks = (spoken, what) => until(`spoken: ${what}`, async () => (await spoken()).some((says) => says.includes(what)));

test('board and phone: digits are not spoken, what is asked and what changed is', async () => {
  const served = await Served.start();
  served.show(take());
  const board = await fullScreen(served.links.board);
  const hand = await phone(served.links.phone);
  for (const { page } of [board, hand]) {
    await page.waitForSelector('#gap');
    await draws(page, take().number);
    const first = await until('the first of it', () => page.locator('#in-words').textContent());
    assert.match(first, /clip the head on at bottom right, and take\. gap within\./);
  }
  const spoken = [await listens(board.page), await listens(hand.page)];
  for (let k = 0; k < 200; k += 1) served.show(take({ number: 100 + k, gap: { ...take().gap, digits: (2 + k / 1000).toFixed(2) } }));
  for (const { page } of [board, hand]) await draws(page, 299);
  for (const heard of spoken) assert.deepEqual(await heard(), []);
  served.show(asked());
  for (const heard of spoken) {
    await speaks(heard, 'will the adjuster left not go further?');
    assert.equal((await heard()).length, 1);
  }
  await board.browser.close();
  await hand.browser.close();
  await served.stop();
});

test('proof: neither the count of taps nor the seconds of the minute are spoken', async () => {
  const served = await Served.start();
  served.show(STATES['mark-corner']);
  const { browser, page } = await fullScreen(served.links.board.replace('/board', '/proof'));
  await draws(page, STATES['mark-corner'].number);
  await until('the first of it', () => page.locator('#in-words').textContent());
  const spoken = await listens(page);
  const off = STATES['hands-off'];
  for (let left_s = 60; left_s >= 0; left_s -= 1) served.show({ ...off, proof: { ...off.proof, left_s, done: 20 + left_s } });
  await until('the minute is over', async () => (await page.locator('#progress').textContent()).endsWith('; 0 s'));
  await speaks(spoken, 'Hands off: touch nothing, stand clear, for a minute.');
  served.show(STATES.message);
  await speaks(spoken, 'Noted: the display does not react there. On to the next.');
  assert.deepEqual((await spoken()).filter((says) => /\d+ of \d+|\d s\b|n: /.test(says)), []);
  // The verdict, and why.
  served.show(STATES.outside);
  await speaks(spoken, 'touch: outside. Touch stands 13.4 ± 4.9 mm off at bottom right');
  await browser.close();
  await served.stop();
});

test('proof: a doubt, a refusal and a lost connection are spoken, once each', async () => {
  const served = await Served.start();
  served.show(STATES['mark-corner']);
  const { browser, page } = await fullScreen(served.links.board.replace('/board', '/proof'));
  await draws(page, STATES['mark-corner'].number);
  const spoken = await listens(page);
  served.show(STATES['not-full-screen']);
  await speaks(spoken, 'The page is not full screen');
  // A word that means what stood there before: refused, and the refusal stands although states go on.
  await page.evaluate(() => new MutationObserver((_, observer) => {
    observer.disconnect();
    document.dispatchEvent(new KeyboardEvent('keydown', { key: 'n', bubbles: true }));
  }).observe(document.documentElement, { attributeFilter: ['data-number'] }));
  served.show(STATES['mark-centre']);
  await speaks(spoken, 'Things have changed since you saw this');
  served.show({ ...STATES['mark-centre'], proof: { ...STATES['mark-centre'].proof, done: 21 } });
  await until('the next count', async () => (await page.locator('#progress').textContent()).startsWith('21 of'));
  assert.match(await page.locator('#message').textContent(), /Things have changed/);
  await served.stop();
  await speaks(spoken, 'The program is not reached');
  const said = await spoken();
  for (const what of ['not full screen', 'Things have changed', 'is not reached']) {
    assert.equal(said.filter((says) => says.includes(what)).length, 1, `${what}: ${said.join(' | ')}`);
  }
  await browser.close();
});
