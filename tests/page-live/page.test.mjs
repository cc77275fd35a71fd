// The command `page` itself, with a simulated head: its links open, board and phone show what the terminal
// says, the phone acts, and its end is seen.

import assert from 'node:assert/strict';
import { once } from 'node:events';
import { join } from 'node:path';
import { test } from 'node:test';
import { fullScreen, phone, pictures, reads, until } from './served.mjs';
import { Work } from './work.mjs';

const told = (work, what) => until(what, () => work.trim.lines.find((line) => line.includes(what)));

test('page: board and phone act, the terminal tells of both, and the end is seen', async () => {
  const work = await Work.start([], 'page');
  for (const link of Object.values(work.links)) assert.equal(new URL(link).hostname, '127.0.0.1', 'on this computer alone');
  const board = await fullScreen(work.links.board);
  const acts = await phone(work.links.phone);
  const looks = await phone(work.links.looks);
  const pages = [board, acts, looks].map(({ page }) => page);
  for (const page of pages) await page.waitForSelector('#gap');
  for (const who of ['board page on this computer acts', 'phone on this computer acts', 'phone on this computer looks on']) await told(work, who);
  // A key that was in the address stands there no more.
  for (const page of pages) assert.equal(new URL(page.url()).hash, '');
  await until('ready', () => work.state?.state === 'ready');
  const { place, gap } = work.state;
  assert.equal(gap.is, 'good');
  await reads(acts.page, '#place', place.called);
  await until('the gap on the board', async () => (await board.page.locator('#gap .digits').textContent()).startsWith(work.state.gap.digits));
  await until('the gap on the phone', async () => (await acts.page.locator('#gap').textContent()) === work.state.gap.digits);
  assert.equal(await looks.page.locator('#big').textContent(), 'This page only looks');
  assert.ok(await looks.page.locator('#big').isDisabled());
  // Without --trim the stations are taken, and nobody is told to turn anything.
  assert.deepEqual(work.state.adjusters, []);
  await work.taken(() => acts.page.tap('#big'), acts.page);
  const { gap: taken } = work.state.stations.find((station) => station.gap);
  await reads(board.page, '#stage', taken);
  await told(work, `${place.called}: ${taken} mm taken`);
  // The light goes: no page keeps the number.
  await work.moved('light off');
  for (const page of pages) await reads(page, 'body', 'no light in the eye');
  await until('no digits on the board', async () => !/[0-9]/.test(await board.page.locator('#gap .digits').textContent()));
  await acts.page.screenshot({ path: `${pictures}/page-phone-dark.png` });
  const takes = await work.takes();
  assert.deepEqual(takes.map(({ station, by }) => [station, by]), [[place.called, 'phone on this computer']]);
  // The program has ended.
  await reads(acts.page, '#link', 'connection lost');
  await reads(board.page, '#foot', 'connection lost');
  for (const { browser } of [board, acts, looks]) await browser.close();
  await work.stop();
});

test('page --trim leads: the first thing to do stands on board and phone', async () => {
  const work = await Work.start(['--trim'], 'page');
  const board = await fullScreen(work.links.board);
  const { browser, page } = await phone(work.links.phone);
  await board.page.waitForSelector('#adjusters');
  await page.waitForSelector('#gap');
  await until('a round', () => work.state?.lines[0]?.startsWith('round 1'));
  await reads(page, '#lines', 'round 1');
  await until('the instruction on the phone', async () => (await page.locator('#instruction').textContent()).includes(work.state.instruction));
  await until('the instruction on the board', async () => {
    const bare = (text) => text.replace(/\s+/g, '');
    return bare(await board.page.locator('#words').textContent()).includes(bare(work.state.instruction));
  });
  assert.deepEqual(work.state.adjusters.map(({ name }) => name), ['left', 'right', 'upper']);
  await browser.close();
  await board.browser.close();
  await work.stop();
});

test('page: what is wrong with a flag or a job is said, and nothing is served', async () => {
  const work = await Work.withRoom();
  const head = join(work.folder, 'head');
  for (const [args, says] of [
    [['--job', process.env.JOB, '--head', head, '--at', '127.0.0.1'], '--lan'],
    [['--job', join(work.folder, 'nosuch.toml'), '--head', head], 'nosuch.toml'],
    [['--job', process.env.JOB, '--head', join(work.folder, 'nohead')], 'nohead'],
  ]) {
    const run = work.run(['page', ...args, '--record', join(work.folder, 'other.sqlite')], 'ignore');
    const [code] = await once(run.child, 'close');
    assert.equal(code, 2, args.join(' '));
    assert.ok(run.beside.join('\n').includes(says), run.beside.join('\n'));
    assert.ok(!run.lines.some((line) => line.includes('#k=')), run.lines.join('\n'));
  }
  work.room.child.kill('SIGKILL');
});
