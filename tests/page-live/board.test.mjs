// The board page: true places, doubts at once, and touches that do nothing.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { BOARD, draws, fullScreen, means, pictures, reads, Served, until } from './served.mjs';
import { asked, doubtful, IMAGE, inch, marking, survey, take, taping, turn } from './states.mjs';

async function board(served, options) {
  const opened = await fullScreen(served.links.board, options);
  await opened.page.waitForSelector('#gap');
  return opened;
}

const middle = (page, selector) => page.locator(selector).evaluate((element) => {
  const box = element.getBoundingClientRect();
  return [box.x + box.width / 2, box.y + box.height / 2];
});

test('every station stands at its place, by fraction of the window', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await board(served);
  assert.equal(await page.evaluate(() => document.documentElement.dataset.places), 'true');
  const marks = page.locator('.station .mark');
  const places = take().stations;
  assert.equal(await marks.count(), places.length);
  for (const [index, { at: [x, y] }] of places.entries()) {
    const [seenX, seenY] = await marks.nth(index).evaluate((mark) => {
      const point = new DOMPoint(Number(mark.getAttribute('cx')), Number(mark.getAttribute('cy')));
      const { x: px, y: py } = point.matrixTransform(mark.getScreenCTM());
      return [px, py];
    });
    assert.ok(Math.abs(seenX - (x / IMAGE.width_mm + 0.5) * BOARD.width) < 0.5, `${seenX}`);
    assert.ok(Math.abs(seenY + (y / IMAGE.height_mm) * BOARD.height) < 0.5, `${seenY}`);
  }
  await browser.close();
  await served.stop();
});

// 140 mm from line to line: a capital of the usual faces is 0.7 of that, a hand high.
test('the live gap is a hand high, in millimetres and inches', async () => {
  const served = await Served.start();
  served.show(take(), inch(take()));
  const { browser, page } = await board(served);
  for (const digits of ['2.35 mm', '0.093 in']) {
    await until(digits, async () => (await page.locator('#gap .digits').textContent()) === digits);
    const tall = await page.locator('#gap .digits').evaluate((text) => parseFloat(text.getAttribute('font-size')));
    assert.ok(tall * 0.7 > 90, `${tall}`);
    const box = await page.locator('#gap .digits').boundingBox();
    assert.ok(box.x >= 0 && box.x + box.width <= BOARD.width, 'it is whole');
    await page.screenshot({ path: `${pictures}/board-${digits.slice(-2)}.png` });
    await page.keyboard.press('i');
  }
  await browser.close();
  await served.stop();
});

test('a window that is not the screen, another aspect, a zoom: said at once, and no longer than it is so', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page, cdp, windowId } = await board(served);
  const doubt = page.locator('#doubt');
  const says = (what) => until(what, async () => !(await doubt.isHidden()) && (await doubt.textContent()).includes(what));
  assert.ok(await doubt.isHidden());
  await cdp.send('Browser.setWindowBounds', { windowId, bounds: { windowState: 'normal' } });
  await cdp.send('Browser.setWindowBounds', { windowId, bounds: { width: 1000, height: 700 } });
  await says('this window does not fill the screen: press f');
  await cdp.send('Browser.setWindowBounds', { windowId, bounds: { windowState: 'fullscreen' } });
  await until('no doubt', () => doubt.isHidden());
  await cdp.send('Emulation.setPageScaleFactor', { pageScaleFactor: 1.5 }).catch(() => {});
  served.show(take({ image: { width_mm: 2025, height_mm: 1139 } }));
  await says('set the display to the job\'s aspect');
  assert.match(await doubt.textContent(), /1\.60 times as wide as high and the job's image 1\.78/);
  await browser.close();
  await served.stop();
});

test('a pinched page says that it is zoomed', async () => {
  const { doubts } = await import(`${process.env.SOURCES}/scale.js`);
  const seen = { innerWidth: 1920, innerHeight: 1200, screenWidth: 1920, screenHeight: 1200, zoom: 1, offset: 0 };
  assert.deepEqual(doubts(IMAGE, seen), []);
  // Half a per cent of aspect, a pixel of rounding: no doubt. More: a doubt.
  assert.deepEqual(doubts(IMAGE, { ...seen, innerWidth: 1919, innerHeight: 1199 }), []);
  assert.equal(doubts({ width_mm: 2025, height_mm: 1280 }, seen).length, 1);
  assert.equal(doubts(IMAGE, { ...seen, zoom: 1.25 }).length, 1);
  assert.equal(doubts(IMAGE, { ...seen, offset: 12 }).length, 1);
  assert.equal(doubts(IMAGE, { ...seen, innerHeight: 1100 }).length, 2);
  assert.deepEqual(doubts(null, { ...seen, innerWidth: 1600, screenWidth: 1600 }), [], 'no job, no places');
});

test('a storm of ghost touches does nothing, and the keyboard is heard in its midst', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page, cdp } = await board(served);
  let fell = 0;
  const ghost = async (at) => {
    const touchPoints = [0, 1].map((id) => ({ x: (at * 97 + id * 611) % BOARD.width, y: (at * 53 + id * 401) % BOARD.height, id }));
    await Promise.all([
      cdp.send('Input.dispatchTouchEvent', { type: 'touchStart', touchPoints }),
      cdp.send('Input.dispatchTouchEvent', { type: 'touchEnd', touchPoints: [] }),
    ]);
    fell += touchPoints.length;
  };
  for (let burst = 0; burst < 10; burst += 1) {
    await Promise.all(Array.from({ length: 50 }, (_, at) => ghost(burst * 50 + at)));
    if (burst === 5) await page.keyboard.press('Space');
  }
  assert.equal(fell, 1000);
  // Some displays come as a mouse.
  await page.mouse.click(960, 600);
  await page.mouse.wheel(0, 300);
  await until('the word', () => served.acts().length > 0);
  assert.deepEqual(served.acts(), [{ by: 'board page on this computer', seen: 7, act: { word: 'take' } }]);
  assert.equal(await page.evaluate(() => document.activeElement === document.body && scrollY === 0), true);
  await browser.close();
  await served.stop();
});

test('keys say what is offered, once, and nothing else', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await board(served);
  await page.keyboard.press('x');
  await page.keyboard.press('Control+r').catch(() => {});
  await page.waitForSelector('#gap');
  await page.keyboard.down('r');
  await page.keyboard.down('r');
  await page.keyboard.down('r');
  await page.keyboard.up('r');
  await until('redo', () => served.acts().length > 0);
  served.show(asked());
  await reads(page, '#words', 'will the adjuster left not go further?');
  await means(page, asked().number);
  await page.keyboard.press('Space');
  await page.keyboard.press('n');
  await until('no', () => served.acts().length > 1);
  served.show(turn(0.5));
  await page.waitForSelector('#dial');
  await means(page, turn().number);
  await page.keyboard.press('x');
  await until('turned', () => served.acts().length > 2);
  assert.deepEqual(served.acts().map(({ act: { word } }) => word), ['redo', 'no', { turned: null }]);
  await browser.close();
  await served.stop();
});

test('cautions stand there whatever is done', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await board(served);
  for (const state of [take(), turn(0.4), asked(), doubtful(), marking(), taping(), survey()]) {
    served.show(state);
    await draws(page, state.number);
    const foot = await page.locator('#foot').textContent();
    assert.match(foot, /Do not look into the projector’s lens from the ladder\. Unplug the display’s touch until the proof\./, state.instruction);
    // What the program cautions of stands there as well, in whatever lines.
    for (const caution of state.cautions) assert.ok(foot.replace(/\s/g, '').includes(caution.replace(/\s/g, '')), caution);
  }
  await browser.close();
  await served.stop();
});

test('the dial closes as the gap comes to what it should be', async () => {
  const served = await Served.start();
  served.show(turn(0.2));
  const { browser, page } = await board(served);
  const share = () => page.locator('#dial').getAttribute('data-share').then(Number);
  await until('a fifth', async () => (await share()) === 0.2);
  assert.match(await page.locator('#adjusters').textContent(), /half a turn\s*anticlockwise/);
  served.show(turn(0.9));
  await until('nearly closed', async () => (await share()) === 0.9);
  await page.screenshot({ path: `${pictures}/board-turn.png` });
  served.show(turn(1));
  await page.waitForSelector('.closed');
  assert.match(await page.locator('#adjusters').textContent(), /■ stop/);
  // The adjusters stand in the order in which they are seen from the room.
  const [left] = await middle(page, '#adjusters text >> text=/^left$/');
  const [right] = await middle(page, '#adjusters text >> text=/^right$/');
  assert.ok(left < right);
  await browser.close();
  await served.stop();
});

// Within 60 mm of where the head hangs nothing is drawn but its outline's own dashes.
test('it is dark where the head hangs', async () => {
  const served = await Served.start();
  for (const here of ['bottom right', 'top', 'left', 'top left', 'bottom']) {
    const { at } = take().stations.find(({ name }) => name === here);
    served.show(take({ place: { called: here, at, still_at: null }, stations: take().stations.map((station) => ({ ...station, here: station.name === here })) }));
    const { browser, page } = await board(served);
    const dark = await page.evaluate(([x, y, width, height]) => {
      const [px, py] = [(x / width + 0.5) * innerWidth, (-y / height) * innerHeight];
      const reach = (60 / width) * innerWidth;
      const near = [...document.querySelectorAll('#stage text, #stage .ring, #stage .arrow')].filter((element) => {
        const box = element.getBoundingClientRect();
        return box.right > px - reach && box.left < px + reach && box.bottom > py - reach && box.top < py + reach;
      });
      return near.map((element) => element.textContent || element.tagName);
    }, [...at, IMAGE.width_mm, IMAGE.height_mm]);
    assert.deepEqual(dark, [], here);
    await browser.close();
  }
  await served.stop();
});

// Readings come thirty times a second: a board that is painted anew with each is late with the digits.
test('with a reading only the digits are drawn anew', async () => {
  const served = await Served.start();
  served.show(turn(0.5));
  const { browser, page } = await board(served);
  await page.evaluate(() => { for (const part of document.getElementById('stage').children) part.stood = true; });
  const { gap } = turn(0.5);
  served.show(turn(0.5, { gap: { ...gap, digits: '5.66' } }));
  await reads(page, '#gap', '5.66 mm');
  const anew = await page.evaluate(() => [...document.getElementById('stage').children].filter((part) => !part.stood).map(({ id }) => id));
  assert.deepEqual(anew, ['gap']);
  // What lies over what stays as it was.
  const order = () => page.evaluate(() => [...document.getElementById('stage').children].map((part) => part.id || part.getAttribute('class')));
  const before = await order();
  await page.keyboard.press('p');
  await page.waitForSelector('#frame');
  await page.keyboard.press('p');
  await page.waitForSelector('#gap');
  assert.deepEqual(await order(), before);
  await browser.close();
  await served.stop();
});

test('the frame is taped by keyboard, and the answers go to the program', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await board(served);
  await page.keyboard.press('p');
  await page.waitForSelector('#frame');
  const [left, right] = await page.locator('#frame .tape').first().evaluate((path) => {
    const { left: from, right: to } = path.getBoundingClientRect();
    return [from, to];
  });
  assert.ok(Math.abs((right - left) / BOARD.width - 0.8) < 0.004, 'four fifths of the image');
  await page.screenshot({ path: `${pictures}/board-frame.png` });
  await page.keyboard.press('y');
  await page.keyboard.type('1619.5');
  await page.keyboard.press('Enter');
  await page.keyboard.type('1x0');
  await page.keyboard.press('Backspace');
  await page.keyboard.type('013');
  await page.keyboard.press('Enter');
  await until('the answers', () => served.acts().length > 0);
  assert.deepEqual(served.acts()[0].act, { whole: true, across_mm: 1619.5, down_mm: 1013 });
  await until('the work is shown again', async () => (await page.locator('#frame').count()) === 0);
  await browser.close();
  await served.stop();
});

test('with the key that looks the keyboard does nothing and says so', async () => {
  const served = await Served.start();
  served.show(take());
  const looks = served.links.looks.replace('/phone#', '/board#');
  const { browser, page } = await fullScreen(looks);
  await page.waitForSelector('#gap');
  await page.keyboard.press('Space');
  await until('refused', async () => (await page.locator('#refused').textContent()).includes('This page only looks'));
  assert.match(await page.locator('#foot').textContent(), /this page only looks/);
  assert.deepEqual(served.acts(), []);
  await browser.close();
  await served.stop();
});

test('light and doubtful: looked at by a person', async () => {
  const served = await Served.start();
  served.show(doubtful());
  const { browser, page } = await board(served);
  await page.keyboard.press('l');
  await until('light', () => page.evaluate(() => document.documentElement.dataset.theme === 'light'));
  assert.equal(await page.locator('#gap .digits').textContent(), '2.35? mm');
  assert.match(await page.locator('#gap').textContent(), /– head moves/);
  await page.screenshot({ path: `${pictures}/board-light.png` });
  await browser.close();
  await served.stop();
});
