// The phone: one hand, gloves, a weak network.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { draws, fullScreen, launch, means, pageOf, phone, PHONE, pictures, reads, Served, until } from './served.mjs';
import { asked, inch, take, turn } from './states.mjs';

async function opened(served, options) {
  const result = await phone(served.links.phone, options);
  await result.page.waitForSelector('#gap.good');
  return result;
}

test('the key leaves the address bar, and what is pressed is large and within reach', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await opened(served);
  assert.equal(new URL(page.url()).hash, '');
  for (const state of [take(), turn(0.4), asked()]) {
    served.show(state);
    await draws(page, state.number);
    const buttons = await page.locator('footer button:visible').all();
    for (const button of buttons) {
      const box = await button.boundingBox();
      assert.ok(box.height >= 56 && box.width >= 56, `${await button.textContent()} ${box.height}`);
      assert.ok(box.y + box.height <= PHONE.height, 'without scrolling');
    }
    assert.equal(await page.evaluate(() => document.documentElement.scrollWidth), PHONE.width);
    await page.screenshot({ path: `${pictures}/phone-${state.state}.png` });
  }
  served.show(take());
  await until('back', () => page.locator('#big').isVisible());
  const big = await page.locator('#big').boundingBox();
  assert.ok(big.height >= 150 && big.width >= 350 && big.y > PHONE.height / 2);
  await browser.close();
  await served.stop();
});

test('a turn is said once: one that is counted in the instruction, what is left of another below it', async () => {
  const served = await Served.start();
  const says = 'a quarter of a turn';
  const adjusters = turn().adjusters.map((one) => (one.turn ? { ...one, turn: { ...one.turn, says: `${says} anticlockwise`, left: -0.25, of: -0.25 } } : one));
  // As the trim words it.
  const counted = turn(0, { number: 51, adjusters, aim: null, instruction: `turn left anticlockwise ↺, ${says} (0.25 turns), by count, then say that it is made` });
  served.show(counted);
  const { browser, page } = await opened(served);
  await draws(page, 51);
  const shown = async () => (await page.locator('#now, #do').allInnerTexts()).join().split(says).length - 1;
  assert.equal(await shown(), 1);
  assert.ok(!(await page.locator('#turn').isVisible()));
  assert.equal((await page.locator('#instruction').textContent()).split('↺').length - 1, 1, 'and its arrow once');
  served.show(turn(0.5, { number: 52, adjusters, instruction: 'turn left anticlockwise ↺, half a turn (0.5 turns), until top left reads 5.40 mm' }));
  await draws(page, 52);
  assert.equal(await page.locator('#turn').textContent(), `↺ left: ${says} anticlockwise to go`);
  await browser.close();
  await served.stop();
});

test('a tap says the word with the state that was seen', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await opened(served);
  await means(page, take().number);
  await page.tap('#big');
  await until('take', () => served.acts().length === 1);
  await page.tap('#words button >> text=Undo');
  await until('redo', () => served.acts().length === 2);
  served.show(asked());
  await page.waitForSelector('#answers:visible');
  await means(page, asked().number);
  await page.tap('#yes');
  await until('yes', () => served.acts().length === 3);
  const by = 'phone on this computer';
  assert.deepEqual(served.acts(), [
    { by, seen: 7, act: { word: 'take' } },
    { by, seen: 7, act: { word: 'redo' } },
    { by, seen: 20, act: { word: 'yes' } },
  ]);
  await browser.close();
  await served.stop();
});

test('where the phone can stay awake and shake, it does', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await phone('about:blank');
  await page.addInitScript(() => {
    window.did = [];
    Object.defineProperty(navigator, 'wakeLock', { value: { request: async (what) => window.did.push(what) } });
    Object.defineProperty(navigator, 'vibrate', { value: (ms) => window.did.push(ms) });
  });
  await page.goto(served.links.phone);
  await page.waitForSelector('#gap.good');
  await means(page, take().number);
  await page.tap('#big');
  await until('take', () => served.acts().length === 1);
  assert.deepEqual(await page.evaluate(() => window.did), ['screen', 30]);
  await browser.close();
  await served.stop();
});

// The finger was on its way when things changed: it comes down in the moment in which this state is
// shown, and means the one before.
const comesDownAt = (page, number) => page.evaluate((at) => {
  new MutationObserver(() => {
    if (document.documentElement.dataset.number === at) document.getElementById('big').click();
  }).observe(document.documentElement, { attributeFilter: ['data-number'] });
}, String(number));

const refusal = (page) => until('refused', async () => (await page.locator('#refused').textContent()).includes('Things have changed since you saw this: nothing was done.'));

test('a tap on what has just changed is refused in words', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await opened(served);
  await means(page, take().number);
  await comesDownAt(page, 8);
  served.show(take({ number: 8 }));
  await refusal(page);
  assert.ok(await page.locator('#refused').isVisible());
  assert.deepEqual(served.acts(), []);
  await browser.close();
  await served.stop();
});

test('two boards, two phones: the same state, and the second act on it is refused', async () => {
  const served = await Served.start();
  served.show(take());
  const all = [await fullScreen(served.links.board), await fullScreen(served.links.looks.replace('/phone#', '/board#')), await opened(served), await phone(served.links.looks)];
  const instruction = 'take bottom left again';
  served.show(take({ number: 9, instruction }));
  for (const { page } of all) {
    await reads(page, 'body', instruction);
  }
  const [board, , acting] = all.map(({ page }) => page);
  await means(board, 9);
  await means(acting, 9);
  await board.keyboard.press('Space');
  await until('the first', () => served.acts().length === 1);
  // What a program does with it: things stand otherwise now.
  await comesDownAt(acting, 10);
  served.show(take({ number: 10, instruction: 'take bottom' }));
  await refusal(acting);
  assert.equal(served.acts().length, 1);
  for (const { browser } of all) await browser.close();
  await served.stop();
});

test('a number that is older than a second, and a lost connection: in words and by shape', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await opened(served);
  const link = page.locator('#link');
  await until('live', async () => (await link.textContent()) === '● live');
  // What it says of itself, however briefly: with how the number looks then.
  await page.evaluate(() => {
    window.said = [];
    const look = () => window.said.push([
      document.getElementById('link').textContent,
      document.getElementById('verdict').textContent,
      getComputedStyle(document.getElementById('digits')).textDecorationLine,
    ]);
    new MutationObserver(look).observe(document.getElementById('link'), { childList: true });
  });
  const says = (what) => until(what, async () => (await page.evaluate(() => window.said)).find(([text]) => text === what));
  served.child.kill('SIGSTOP');
  const [, verdict, line] = await says('◔ stale: older than 1 s');
  assert.match(verdict, /^◔ old number/);
  assert.match(line, /line-through/);
  await page.screenshot({ path: `${pictures}/phone-stale.png` });
  // A network that took the connection away without a word: it is made anew.
  await says('✕ connection lost');
  served.child.kill('SIGCONT');
  await until('live again', async () => (await link.textContent()) === '● live');
  await served.stop();
  await until('lost', async () => (await link.textContent()) === '✕ connection lost');
  assert.ok(await page.locator('#big').isDisabled());
  await browser.close();
});

test('inches and a light page are remembered by the phone', async () => {
  const served = await Served.start();
  served.show(take(), inch(take()));
  const { browser, page } = await opened(served);
  await page.tap('#more > summary');
  await page.tap('#units');
  await until('inches', async () => (await page.locator('#gap').textContent()) === '0.093');
  assert.equal(await page.locator('#unit').textContent(), 'in');
  await page.tap('#theme');
  await page.goto(served.links.phone);
  await until('inches', async () => (await page.locator('#gap').textContent()) === '0.093');
  assert.equal(await page.evaluate(() => document.documentElement.dataset.theme), 'light');
  await page.screenshot({ path: `${pictures}/phone-light-inch.png` });
  await browser.close();
  await served.stop();
});

test('the key that looks shows everything and acts on nothing; a wrong one is refused in words', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await phone(served.links.looks);
  await page.waitForSelector('#gap.good');
  await until('only looks', async () => (await page.locator('#big').textContent()) === 'This page only looks');
  assert.ok(await page.locator('#big').isDisabled());
  assert.equal(await page.locator('#words button').count(), 0);
  await page.goto('about:blank');
  await page.goto(`${served.links.phone.split('#')[0]}#k=AAAAAAAAAAAAAAAAAAAAAA`);
  await until('refused', async () => (await page.locator('#refused').textContent()).includes('This key is of another run'));
  await browser.close();
  await served.stop();
});

test('notes and photographs go to the program, without the place', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await opened(served);
  await page.tap('#more > summary');
  await page.fill('#note', 'cable <b>left</b> of the lamp');
  await page.tap('#note-form button');
  await until('the note', () => served.acts().some(({ act }) => act.note === 'cable <b>left</b> of the lamp'));
  const jpeg = Buffer.from([0xff, 0xd8, 0xff, 0xfe, 0, 7, ...Buffer.from('PLACE'), 0xff, 0xda, 0, 4, 0, 0, ...Buffer.alloc(2e6, 7), 0xff, 0xd9]);
  await page.setInputFiles('#photo', { name: 'a.jpg', mimeType: 'image/jpeg', buffer: jpeg });
  await until('the photo', () => served.acts().some(({ act }) => act.photo === jpeg.length - 9));
  await until('kept', async () => (await page.locator('#kept').textContent()).includes('without the place'));
  await page.setInputFiles('#photo', { name: 'a.gif', mimeType: 'image/gif', buffer: Buffer.from('GIF89a') });
  await until('refused', async () => (await page.locator('#kept').textContent()).includes('neither a JPEG nor a PNG'));
  await page.fill('#across', 'about 2');
  await page.tap('#frame-form button');
  await until('no length', async () => /"about 2" is no length .*enter millimetres/.test(await page.locator('#kept').textContent()));
  await page.fill('#across', '1619,5');
  await page.check('#whole-frame');
  await page.tap('#frame-form button');
  await until('the frame', () => served.acts().some(({ act }) => act.across_mm === 1619.5 && act.whole));
  await browser.close();
  await served.stop();
});

// There the gap is none, and says nothing; as on the terminal's screen the tilts are the number.
test('with the head on the emitter its tilts are the number, on the phone and on the board', async () => {
  const served = await Served.start();
  const tilts = [['level', '0.09'], ['lean', '-0.16']].map(([name, digits]) => ({ name, digits, unit: '°', is: 'good', why: null, verdict: null }));
  const gap = { ...take().gap, digits: '–', unit: '', is: 'absent', why: 'laser spot lost', verdict: null };
  served.show(take({ number: 53, tilts, gap, tone: null, place: { called: 'emitter', at: null, still_at: null } }));
  const { browser, page } = await phone(served.links.phone);
  await draws(page, 53);
  assert.equal(await page.locator('#digits').innerText().then((text) => text.replace(/\s+/g, '')), '0.09°');
  assert.equal((await page.locator('#verdict').textContent()).trim(), 'level');
  assert.match(await page.locator('#beside').textContent(), /^lean -0\.16 °/);
  assert.doesNotMatch(await page.locator('body').innerText(), /laser spot lost/);
  const board = await fullScreen(served.links.board);
  await draws(board.page, 53);
  assert.equal(await board.page.locator('#gap .digits').textContent(), '0.09 °');
  assert.doesNotMatch(await board.page.locator('body').textContent(), /laser spot lost/);
  await board.browser.close();
  await browser.close();
  await served.stop();
});

// A glove on the large button must not undo what is done.
test('when all is done the large button does nothing, and Enter on the board neither', async () => {
  const served = await Served.start();
  const words = [{ word: 'redo', does: 'take again' }, { word: 'more', does: 'take one more seat' }, { word: 'quit', does: 'end' }];
  served.show(take({ number: 52, state: 'over', state_says: 'done', words }));
  const { browser, page } = await opened(served);
  await means(page, 52);
  assert.equal(await page.locator('#big').textContent(), 'done');
  assert.ok(await page.locator('#big').isDisabled());
  assert.equal(await page.locator('#words button').first().textContent(), 'Undo: take again');
  const board = await fullScreen(served.links.board);
  await means(board.page, 52);
  await board.page.keyboard.press('Enter');
  await board.page.keyboard.press('r');
  await until('redo', () => served.acts().length > 0);
  assert.deepEqual(served.acts().map(({ act: { word } }) => word), ['redo']);
  await board.browser.close();
  await browser.close();
  await served.stop();
});

// A browser opens six connections at once for what a page is made of: more than the program gives one
// address at a time. Opened together each page comes up whole, in its turn.
test('seven pages opened at the same moment all come up', async () => {
  const served = await Served.start();
  served.show(take());
  const browser = await launch();
  const contexts = await Promise.all(Array.from({ length: 7 }, () => browser.newContext()));
  const pages = await Promise.all(contexts.map(pageOf));
  const failed = [];
  for (const page of pages) page.on('requestfailed', (request) => failed.push(request.url()));
  await Promise.all(pages.map((page) => page.goto(served.links.board)));
  for (const page of pages) await draws(page, take().number);
  assert.deepEqual(failed, []);
  await browser.close();
  await served.stop();
});
