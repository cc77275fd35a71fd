// The job's steps on the pages: from the record, and as it is now; by the real command.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { rmSync, writeFileSync } from 'node:fs';
import { test } from 'node:test';
import { axeFindsNothing } from './axe.mjs';
import { BOARD, fullScreen, phone, pictures, reads, until } from './served.mjs';
import { ROOM, started } from './walk.mjs';

const WHO = '<img src=x onerror="window.done=1">';

test('what is done, open and stale stands on board and phone, and what comes next with its command', async () => {
  const work = await started('setout', ROOM);
  const next = (...more) => spawnSync(process.env.SKIMGAUGE, ['next', '--job', work.job, '--record', work.record, ...more], { encoding: 'utf8' });
  const board = await fullScreen(work.board);
  await board.page.waitForSelector('#marks');
  await board.page.keyboard.press('j');
  await reads(board.page, '#steps', '✓ done: set-out');
  await reads(board.page, '#steps', '▶ open: services');
  await reads(board.page, '#steps', '--done services');
  // The panel and the foot stand beside one another, both whole.
  const [panel, foot] = await Promise.all(['#steps rect', '#foot rect'].map((box) => board.page.locator(box).boundingBox()));
  assert.ok(panel.x + panel.width <= foot.x, JSON.stringify([panel, foot]));
  assert.ok(foot.x + foot.width <= BOARD.width && panel.y >= 0 && panel.y + panel.height <= BOARD.height, JSON.stringify([panel, foot]));
  await board.page.screenshot({ path: `${pictures}/board-steps.png` });
  const { browser, page } = await phone(work.looks);
  await page.waitForSelector('#instruction');
  await page.tap('#steps > summary');
  await reads(page, '#steps-next', 'Next: cables and pipes in the wall looked for');
  // What the pages show is what the command says.
  const told = JSON.parse(next('--json').stdout);
  const shown = await page.locator('#steps-list li').evaluateAll((items) => items.map((item) => item.firstChild.textContent));
  assert.deepEqual(shown.map((line) => line.slice(2)), told.steps.map(({ state, says }) => `${state}: ${says}`));
  assert.equal(await page.locator('#steps-command').textContent(), told.steps.find(({ step }) => step === told.next).command);
  assert.ok((await page.locator('#steps-first li').count()) === 3, 'what is gone through before it');
  // Somebody says a step done elsewhere: the pages follow. A name is text, whatever it holds.
  const said = next('--done', 'services', '--checked', '--by', WHO);
  assert.ok([0, 3].includes(said.status), said.stderr);
  await reads(page, '#steps-list', '✓ done: cables and pipes');
  await reads(page, '#steps-list', WHO);
  await reads(page, '#steps-list li.now', 'what the anchors carry');
  await reads(board.page, '#steps', '✓ done: services');
  await page.screenshot({ path: `${pictures}/phone-steps.png`, fullPage: true });
  assert.equal(await page.evaluate(() => window.done), undefined);
  await axeFindsNothing(page, 'phone: steps');
  await axeFindsNothing(board.page, 'board: steps');
  // The panel goes as it came.
  await board.page.keyboard.press('j');
  await until('gone', async () => (await board.page.locator('#steps').count()) === 0);
  await board.browser.close();
  await browser.close();
  await work.end();
  rmSync(work.folder, { recursive: true });
});

test('a record that cannot be read is said, and the work goes on', async () => {
  const work = await started('setout', ROOM);
  const { browser, page } = await phone(work.phone);
  await page.waitForSelector('#big:enabled');
  await page.tap('#steps > summary');
  await reads(page, '#steps-next', 'Next: ');
  writeFileSync(work.record, 'this is no record');
  await until('said', async () => /record/.test(await page.locator('#steps-says').textContent()));
  assert.ok(await page.locator('#big').isEnabled());
  await browser.close();
  await work.end();
  rmSync(work.folder, { recursive: true });
});
