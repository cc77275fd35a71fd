// What must not happen: a request elsewhere, a script of others, a page that only some can read.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { test } from 'node:test';
import { BOARD, fullScreen, launch, phone, reads, Served, until } from './served.mjs';
import { asked, doubtful, stations, take, turn } from './states.mjs';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const EVIL = '<img src=x onerror="window.done=1"><script>window.done=1</script>';

function evil() {
  return take({
    title: EVIL,
    instruction: `take ${EVIL}`,
    message: { says: EVIL, bad: true },
    lines: [EVIL],
    cautions: [EVIL],
    place: { called: EVIL, at: [-1012, 0], still_at: EVIL },
    stations: stations('top left').map((station) => ({ ...station, name: EVIL })),
    words: [{ word: 'take', does: EVIL }, { word: 'redo', does: EVIL }, { word: 'more', does: EVIL }],
  });
}

async function both(served) {
  return [await fullScreen(served.links.board), await phone(served.links.phone)];
}

test('names that hold markup are text, an injected script is stopped, and nothing is asked elsewhere', async () => {
  const served = await Served.start();
  for (const { browser, context, page } of await both(served)) {
    served.show(evil());
    const requests = [];
    const violations = [];
    context.on('request', (request) => requests.push(request.url()));
    await page.exposeFunction('violated', (what) => violations.push(what));
    await page.addInitScript(() => document.addEventListener('securitypolicyviolation', ({ violatedDirective, blockedURI }) => window.violated(`${violatedDirective} ${blockedURI}`)));
    await page.goto('about:blank');
    await page.goto(page.viewportSize() ? served.links.phone : served.links.board);
    await reads(page, 'body', '<img src=x');
    for (const state of [take(), turn(0.3), turn(1), asked(), doubtful()]) {
      served.show(state);
      await page.waitForTimeout(150);
    }
    assert.deepEqual(violations, [], 'the page itself keeps to the policy');
    assert.ok(requests.length > 5);
    const { origin } = new URL(served.links.board);
    assert.deepEqual(requests.filter((url) => new URL(url).origin !== origin), []);
    assert.ok(requests.every((url) => !url.includes(served.links.board.split('#k=')[1])), 'the key is in no address');
    // What somebody got into the page all the same does not run.
    await page.evaluate(() => {
      const script = document.createElement('script');
      script.textContent = 'window.done = 1';
      document.head.append(script);
      const image = document.createElement('img');
      image.setAttribute('onerror', 'window.done = 1');
      image.src = 'https://elsewhere.example/x.png';
      document.body.append(image);
    });
    await until('stopped', () => violations.length >= 2);
    assert.equal(await page.evaluate(() => window.done), undefined);
    assert.equal((await context.cookies()).length, 0);
    await browser.close();
  }
  await served.stop();
});

test('another page can neither read nor say anything', async () => {
  const served = await Served.start();
  served.show(take());
  const key = served.links.phone.split('#k=')[1];
  const port = new URL(served.links.phone).port;
  const browser = await launch(['--host-resolver-rules=MAP rebound.example 127.0.0.1']);
  const page = await browser.newPage();
  const foreign = await Served.start();
  await page.goto(foreign.links.phone);
  const tried = await page.evaluate(async ([to, bearer]) => {
    const outcomes = [];
    for (const [path, options] of [
      ['/state', { headers: { Authorization: `Bearer ${bearer}` } }],
      ['/word', { method: 'POST', headers: { Authorization: `Bearer ${bearer}`, 'Content-Type': 'application/json' }, body: '{"word":"take","seen":7}' }],
      ['/word', { method: 'POST', mode: 'no-cors', body: '{"word":"take","seen":7}' }],
    ]) {
      try {
        const answer = await fetch(`http://127.0.0.1:${to}${path}`, options);
        outcomes.push(answer.type);
      } catch {
        outcomes.push('failed');
      }
    }
    return outcomes;
  }, [port, key]);
  assert.deepEqual(tried, ['failed', 'failed', 'failed']);
  // A name that somebody made point here.
  const answer = await page.goto(`http://rebound.example:${port}/phone`);
  assert.equal(answer.status(), 421);
  assert.deepEqual(served.acts(), []);
  await browser.close();
  await served.stop();
  await foreign.stop();
});

test('axe finds nothing, dark and light, with forced colours, and nothing moves where that is asked', async () => {
  const served = await Served.start();
  for (const [name, state] of Object.entries({ take: take(), turn: turn(0.4), asked: asked(), doubtful: doubtful() })) {
    served.show(state);
    for (const { browser, page } of await both(served)) {
      await until('shown', async () => (await page.locator('body').textContent()).includes('2.35') || name === 'turn');
      const summary = page.locator('#more > summary');
      if (await summary.count()) await summary.click();
      for (const theme of ['dark', 'light']) {
        for (const media of [{ forcedColors: 'none', reducedMotion: 'reduce' }, { forcedColors: 'active' }]) {
          await page.emulateMedia(media);
          await page.evaluate((to) => { document.documentElement.dataset.theme = to; }, theme);
          await page.evaluate(axe);
          const { violations } = await page.evaluate(() => window.axe.run());
          assert.deepEqual(violations.map(({ id, nodes }) => `${id}: ${nodes[0].html}`), [], `${name} ${theme} ${media.forcedColors}`);
          if (media.reducedMotion) {
            assert.equal(await page.evaluate(() => document.getAnimations().length), 0);
          }
        }
      }
      await browser.close();
    }
  }
  await served.stop();
});

test('with forced colours verdicts are still told apart', async () => {
  const served = await Served.start();
  served.show(turn(0.4));
  const { browser, page } = await phone(served.links.phone, { forcedColors: 'active' });
  await until('shown', async () => (await page.locator('#verdict').textContent()) === '✕ outside');
  await browser.close();
  const board = await fullScreen(served.links.board);
  await board.page.emulateMedia({ forcedColors: 'active' });
  await until('shown', async () => (await board.page.locator('#gap').textContent()).includes('✕ outside'));
  assert.deepEqual(await board.page.evaluate(() => [innerWidth, innerHeight]), [BOARD.width, BOARD.height]);
  await board.browser.close();
  await served.stop();
});
