// Without a head, or over the whole board: points and lengths that light up one after another.

import assert from 'node:assert/strict';
import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { BOARD, fullScreen, phone, pictures, reads, Served, stands, until } from './served.mjs';
import { IMAGE, inch, marking, survey, taping } from './states.mjs';
import { ROOM, started } from './walk.mjs';
import { Work } from './work.mjs';

// Where a point of the image is on the screen.
const seenAt = ([x, y]) => [(x / IMAGE.width_mm + 0.5) * BOARD.width, (-y / IMAGE.height_mm) * BOARD.height];

test('a set-out’s points light up one after another, at their places', async () => {
  const served = await Served.start();
  served.show(marking());
  const { browser, page } = await fullScreen(served.links.board);
  await page.waitForSelector('#marks');
  const lit = page.locator('#marks .now');
  assert.equal(await lit.count(), 1);
  assert.equal(await lit.getAttribute('data-name'), 'image top left');
  assert.equal(await page.locator('#gap').count(), 0, 'no head, no gap');
  // A point within the image stands where it is; one beyond it is pointed at from the edge.
  for (const { name, at } of marking().marks) {
    const box = await page.locator(`#marks [data-name="${name}"] .cross`).first().evaluate((cross) => {
      const { x, y, width, height } = cross.getBBox();
      const to = (px, py) => { const { x: a, y: b } = new DOMPoint(px, py).matrixTransform(cross.getScreenCTM()); return [a, b]; };
      return { middle: to(x + width / 2, y + height / 2), tip: to(x + width / 2, y) };
    });
    const [x, y] = seenAt(at);
    const [seenX, seenY] = y < 0 ? box.tip : box.middle;
    assert.ok(Math.abs(seenX - x) < 0.6 && Math.abs(seenY - Math.max(y, 0)) < 0.6, `${name}: ${seenX} ${seenY} for ${x} ${y}`);
  }
  await page.screenshot({ path: `${pictures}/board-marks.png` });
  await page.keyboard.press('ArrowDown');
  await until('next', () => served.acts().length > 0);
  assert.deepEqual(served.acts()[0].act, { word: 'next' });
  served.show(marking({ number: 32, marks: marking().marks.map((mark, index) => ({ ...mark, now: index === 2, done: index < 2 })) }));
  await until('the next is lit', async () => (await lit.getAttribute('data-name')) === 'image top right');
  await browser.close();
  const other = await phone(served.links.phone);
  await until('the large button', async () => (await other.page.locator('#big').textContent()) === 'Image top left is marked: next');
  assert.ok(await other.page.locator('#now').isHidden());
  await other.page.screenshot({ path: `${pictures}/phone-marks.png` });
  await other.browser.close();
  await served.stop();
});

test('the tape’s lengths light up; they are entered at the board and on the phone, in mm and inches', async () => {
  const served = await Served.start();
  served.show(taping(), inch(taping()));
  const board = await fullScreen(served.links.board);
  await board.page.waitForSelector('#lengths');
  assert.equal(await board.page.locator('#lengths .now').getAttribute('data-name'), 'left');
  await board.page.keyboard.type('1264.5');
  await reads(board.page, '#lengths .now', '1264.5_ mm');
  await board.page.screenshot({ path: `${pictures}/board-tape.png` });
  await board.page.keyboard.press('Enter');
  await until('taped', () => served.acts().length === 1);
  await board.page.keyboard.press('i');
  await reads(board.page, '#lengths .now', '_ in');
  await board.page.keyboard.type('49 3/4');
  await board.page.keyboard.press('Enter');
  await until('in inches', () => served.acts().length === 2);
  await board.browser.close();
  const { browser, page } = await phone(served.links.phone);
  await page.waitForSelector('#length-form:visible');
  assert.ok(await page.locator('#big').isHidden());
  const keep = await page.locator('#length-form button').boundingBox();
  assert.ok(keep.height >= 56 && keep.width >= 56);
  await page.fill('#length', 'x');
  await page.tap('#length-form button');
  await until('refused', async () => /"x" is no length/.test(await page.locator('#refused').textContent()));
  await page.fill('#length', '1264,5');
  await page.screenshot({ path: `${pictures}/phone-tape.png` });
  await page.tap('#length-form button');
  await until('from the phone', () => served.acts().length === 3);
  assert.deepEqual(served.acts().map(({ act }) => act), [
    { name: 'left', length_mm: 1264.5 },
    { name: 'left', length_mm: 49.75 * 25.4 },
    { name: 'left', length_mm: 1264.5 },
  ]);
  await until('empty for the next', async () => (await page.inputValue('#length')) === '');
  await browser.close();
  await served.stop();
});

test('a survey’s points light up all over the board', async () => {
  const served = await Served.start();
  served.show(survey());
  const { browser, page } = await fullScreen(served.links.board);
  await page.waitForSelector('#head');
  const box = await page.locator('#head .head').boundingBox();
  const [x, y] = seenAt(survey().stations[3].at);
  assert.ok(Math.abs(box.x + box.width / 2 - x) < 4 && Math.abs(box.y + box.height / 2 - y) < 4);
  await page.screenshot({ path: `${pictures}/board-survey.png` });
  await browser.close();
  await served.stop();
});

// The demonstration's job: its image is 2025 by 1265.6 mm; a diagonal of that is 2387.96 mm (Pythagoras).
test('square takes its lengths from the phone, and keeps what they come to', async () => {
  const work = await started('square');
  const { browser, page } = await phone(work.phone);
  for (const [name, length] of [['Top side', '2029'], ['Right side', '1265,6'], ['Bottom side', '2025'], ['Left side', '1265.6'], ['Diagonal from top left to bottom right', '2390'], ['Diagonal from top right to bottom left', '94 3/32 in']]) {
    await until(name, async () => (await page.locator('#length-called').textContent()) === name);
    await page.fill('#length', length);
    await page.tap('#length-form button');
  }
  await until('all taped', async () => (await page.locator('#instruction').textContent()).startsWith('all six are taped'));
  await until('what to turn', async () => (await page.locator('#lines').textContent()).includes('tape: '));
  await page.tap('#more > summary');
  const ended = once(work.child, 'exit');
  await stands(page);
  await page.tap('#rare button >> text=End');
  await ended;
  assert.ok(work.lines.some((line) => line.includes('SQUARE  image wanted')));
  assert.ok(work.lines.some((line) => line.startsWith('Kept in ')), work.lines.join('\n'));
  assert.ok(work.lines.some((line) => line.includes('phone on this computer: taped falling')));
  await browser.close();
  rmSync(work.folder, { recursive: true });
});

// By the command itself: the board shows what the phone goes through, point by point.
test('setout leads from point to point by the phone, and the board lights them up at their places', async () => {
  const work = await started('setout', ROOM);
  const board = await fullScreen(work.board);
  await board.page.waitForSelector('#marks');
  const { browser, page } = await phone(work.phone);
  await page.waitForSelector('#big:enabled');
  const lit = board.page.locator('#marks .now');
  const all = await board.page.locator('#marks .point').evaluateAll((points) => points.map((point) => point.dataset.name));
  assert.ok(all.length >= 5, 'there is something to walk');
  const walked = [];
  for (const name of all) {
    await until(`${name} is lit`, async () => (await lit.count()) === 1 && (await lit.getAttribute('data-name')) === name);
    walked.push(name);
    await until('the phone says so', async () => (await page.locator('#instruction').textContent()).includes(name));
    await stands(page);
    await page.tap('#big');
  }
  assert.deepEqual(walked, all, 'one after another');
  await until('all are marked', async () => (await board.page.locator('#marks .done').count()) === all.length);
  assert.equal(await lit.count(), 0);
  // A set-out's cautions are many: every line of them is whole.
  const cut = await board.page.locator('#foot text').evaluateAll((lines) => lines.filter((line) => {
    const { left, right, bottom } = line.getBoundingClientRect();
    return left < 0 || right > innerWidth || bottom > innerHeight;
  }).map((line) => line.textContent));
  assert.deepEqual(cut, []);
  // The image's corners are where the image's corners are, as seen on the board.
  const [x, y] = await board.page.evaluate(() => {
    const cross = document.querySelector('#marks [data-name="image bottom right"] .cross');
    const { x: left, y: top, width, height } = cross.getBoundingClientRect();
    return [left + width / 2, top + height / 2];
  });
  assert.ok(Math.abs(x - BOARD.width) < 1 && Math.abs(y - BOARD.height) < 1, `${x} ${y}`);
  await board.page.screenshot({ path: `${pictures}/setout-board.png` });
  await board.browser.close();
  await browser.close();
  assert.equal(await work.end(), 0, work.lines.join('\n'));
  rmSync(work.folder, { recursive: true });
});

test('a survey with the head is led from the board page', async () => {
  const work = await Work.start(['--plain', '--points', join(mkdtempSync(join(tmpdir(), 'skimgauge-survey-')), 'points.csv')], 'survey');
  const { browser, page } = await fullScreen(work.links.board);
  await page.waitForSelector('#head');
  const places = [];
  for (const station of ['top left', 'top', 'top right']) {
    const { index, at } = await until('a point', () => work.state?.stations.find(({ here }) => here));
    places.push(index);
    // It is lit on the board, there.
    const [x, y] = seenAt(at);
    await until('lit', () => page.evaluate(([px, py]) => {
      const box = document.getElementById('head').getBoundingClientRect();
      return px >= box.left - 1 && px <= box.right + 1 && py >= box.top - 1 && py <= box.bottom + 1;
    }, [x, y]));
    await work.taken(() => page.keyboard.press('Space'), page);
    await work.moved(`to ${station}`);
  }
  assert.equal(new Set(places).size, 3, 'one after another');
  await page.screenshot({ path: `${pictures}/survey-board.png` });
  await browser.close();
  await work.stop();
});
