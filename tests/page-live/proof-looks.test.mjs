// How the proof's page looks, in each of its states: found by axe, in both themes, with forced
// colours; nothing lies over what is to be touched; nothing runs out of the screen.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { test } from 'node:test';
import { fullScreen, pictures, Served, until } from './served.mjs';
import { STATES } from './proof-states.mjs';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

async function opened(screen) {
  const served = await Served.start();
  const opened = await fullScreen(served.links.board.replace('/board', '/proof'), screen && { screen });
  const show = async (state) => {
    served.show(state);
    await until('shown', () => opened.page.evaluate((number) => document.documentElement.dataset.number === number, String(state.number)));
  };
  return { ...opened, served, show };
}

// What can be seen now, as rectangles in pixels: words, and what is drawn to be touched.
function seen() {
  const shown = (element) => element.textContent.trim() && element.checkVisibility();
  const box = (element) => {
    const range = document.createRange();
    range.selectNodeContents(element);
    const { left, top, right, bottom } = range.getBoundingClientRect();
    return { what: element.id || element.textContent, left, top, right, bottom };
  };
  const words = [...document.querySelectorAll('#says > *, #doubt, #over > h2, #over > p, #over li')].filter(shown).map(box);
  const drawn = [...document.querySelectorAll('#stage .hair, #stage .ring, #stage .dot, #stage .way')].map((element) => {
    const { left, top, right, bottom } = element.getBoundingClientRect();
    return { what: element.getAttribute('class'), left, top, right, bottom };
  });
  return { words, drawn, width: innerWidth, height: innerHeight };
}

const apart = (a, b) => a.right < b.left || b.right < a.left || a.bottom < b.top || b.bottom < a.top;

test('axe finds nothing in any state, dark and light, with forced colours; nothing moves where that is asked', async () => {
  const { served, browser, page, show } = await opened();
  const found = new Set();
  for (const [name, state] of Object.entries(STATES)) {
    await show(state);
    for (const theme of ['dark', 'light']) {
      for (const media of [{ forcedColors: 'none', reducedMotion: 'reduce' }, { forcedColors: 'active', reducedMotion: 'no-preference' }]) {
        await page.emulateMedia(media);
        await page.evaluate((to) => { document.documentElement.dataset.theme = to; }, theme);
        if (!await page.evaluate(() => Boolean(window.axe))) await page.evaluate(axe);
        const { violations } = await page.evaluate(() => window.axe.run());
        for (const { id, nodes } of violations) found.add(`${name} ${theme} ${media.forcedColors} ${id}: ${nodes[0].html}`);
        if (media.reducedMotion === 'reduce') assert.equal(await page.evaluate(() => document.getAnimations().length), 0, name);
        await page.screenshot({ path: `${pictures}/proof-look-${name}-${theme}${media.forcedColors === 'active' ? '-forced' : ''}.png` });
      }
    }
  }
  assert.deepEqual([...found], []);
  await browser.close();
  await served.stop();
});

for (const screen of [{ width: 1920, height: 1200 }, { width: 1280, height: 800 }, { width: 3840, height: 2400 }]) {
  test(`words never lie over what is to be touched, nor beyond the screen, at ${screen.width} by ${screen.height}`, async () => {
    const { served, browser, page, show } = await opened(screen);
    for (const [name, state] of Object.entries(STATES)) {
      await show(state);
      const { words, drawn, width, height } = await page.evaluate(seen);
      assert.ok(words.length > 0, name);
      if (name === 'leaf') {
        const [leaf] = drawn;
        assert.ok(leaf.left >= 0 && leaf.right <= width, `the leaf is seen whole: ${JSON.stringify(leaf)}`);
      }
      for (const word of words) {
        assert.ok(word.left >= 0 && word.top >= 0 && word.right <= width && word.bottom <= height, `${name}: ${JSON.stringify(word)}`);
      }
      for (const [at, word] of words.entries()) {
        for (const other of words.slice(at + 1)) assert.ok(apart(word, other), `${name}: ${JSON.stringify([word, other])}`);
        // A diagonal's box is the whole screen: its words stand beside it, which the pictures show.
        for (const one of drawn.filter(({ what }) => name !== 'diagonal' || what !== 'way')) {
          assert.ok(apart(word, one), `${name}: ${JSON.stringify([word, one])}`);
        }
      }
    }
    await browser.close();
    await served.stop();
  });
}

test('the verdict says what to do, not only what is wrong', async () => {
  const { served, browser, page, show } = await opened();
  await show(STATES.outside);
  const text = await page.locator('#over').innerText();
  assert.match(text, /Bring the gap within first/);
  assert.match(text, /Latency cannot be measured/);
  await browser.close();
  await served.stop();
});
