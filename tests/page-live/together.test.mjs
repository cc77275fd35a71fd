// Two boards, two phones and the terminal on one piece of work with a head: the same state before all of
// them, and one act on it.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { fullScreen, phone, pictures, reads, until } from './served.mjs';
import { Work } from './work.mjs';

test('all show the same, and what was said of what stood there before is refused in words', async () => {
  const work = await Work.start(['--plain'], 'watch');
  const boards = [await fullScreen(work.links.board), await fullScreen(work.links.looks.replace('/phone#', '/board#'))];
  const phones = [await phone(work.links.phone), await phone(work.links.looks)];
  const everyone = [...boards, ...phones].map(({ page }) => page);
  const said = (what) => until(what, () => work.trim.lines.find((line) => line.includes(what)));
  await until('ready', () => work.state?.state === 'ready');
  const { number, place } = work.state;
  for (const page of everyone) await until('the same words', async () => (await page.locator('body').textContent()).includes(place.called) || (await page.locator('#head').count()) === 1);
  await until('the terminal shows it', () => work.trim.lines.some((line) => line.includes(place.called)));
  // One acts: the board's keyboard.
  await work.taken(() => boards[0].page.keyboard.press('Space'), boards[0].page);
  const { gap } = work.state.stations[0];
  await said('board page on this computer: take');
  assert.ok(await until('at the terminal', () => work.trim.lines.find((line) => line.includes(`${place.called}: ${gap} mm`) || (line.includes(place.called) && line.includes(gap)))));
  for (const { page } of boards) await reads(page, '#stage', gap);
  // Another means what stood there before: a phone whose network was slow.
  const answer = await phones[0].page.evaluate(async (seen) => {
    const { Link } = await import('/files/link.js');
    const link = Object.create(Link.prototype);
    Object.assign(link, { key: sessionStorage.getItem('key'), page: 'phone' });
    return link.say('take', seen);
  }, number);
  assert.equal(answer, 'Things have changed since you saw this: nothing was done. Look at the page, then press again.');
  assert.equal(work.state.stations.filter((station) => station.gap).length, 1, 'taken once');
  // The head's button, too, is heard; and everybody sees what came of it.
  await work.moved('to top');
  await until('at top', () => work.state.state === 'ready' && work.state.place.called === 'top');
  await work.taken(() => work.moved('press'));
  const second = work.state.stations.filter((station) => station.gap).map((station) => station.gap).at(-1);
  for (const { page } of boards) await reads(page, '#stage', second);
  await phones[1].page.screenshot({ path: `${pictures}/together-phone.png` });
  const takes = await work.takes();
  assert.deepEqual(takes.map(({ by }) => by), ['board page on this computer', "head's button"]);
  for (const { browser } of [...boards, ...phones]) await browser.close();
  await work.stop();
});
