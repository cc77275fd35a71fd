// By ear: what is played is what is meant, and nothing before it is asked for.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { fullScreen, phone, Served, until } from './served.mjs';
import { take, turn } from './states.mjs';

// The pitch of what is played, by its zero crossings, without a sound device.
const measured = (page, phraseOf) => page.evaluate(async (of) => {
  const { phrase, play } = await import('/files/sound.js');
  const { notes } = phrase(of.tone, of.fresh);
  const found = [];
  for (const [, long, hz] of notes) {
    const context = new OfflineAudioContext(1, 48000, 48000);
    play(context, context.destination, 0, { notes: [[0, Math.max(long, 0.5), hz]] });
    const samples = (await context.startRendering()).getChannelData(0).subarray(2400, 21600);
    let crossings = 0;
    for (let at = 1; at < samples.length; at += 1) if (samples[at - 1] < 0 && samples[at] >= 0) crossings += 1;
    found.push(crossings / 0.4);
  }
  return found;
}, phraseOf);

test('pitch tells how far, two sounds tell within and stop, and no silence is good', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await phone(served.links.phone);
  await page.waitForSelector('#gap.good');
  const near = (found, wanted) => {
    assert.equal(found.length, wanted.length);
    found.forEach((hz, at) => assert.ok(Math.abs(hz - wanted[at]) <= 3, `${found} ${wanted}`));
  };
  for (const [off_mm, hz] of [[2, 220], [-2, 220], [1, 440], [-0.5, 622], [9, 220]]) {
    near(await measured(page, { tone: { off_mm, is: 'off' }, fresh: true }), [hz]);
  }
  near(await measured(page, { tone: { off_mm: 0, is: 'within' }, fresh: true }), [660, 990]);
  near(await measured(page, { tone: { off_mm: 0.02, is: 'stop' }, fresh: true }), [1320, 1320, 1320]);
  // Nothing good to go by, or not live: heard, too.
  near(await measured(page, { tone: null, fresh: true }), [110]);
  near(await measured(page, { tone: { off_mm: 0, is: 'stop' }, fresh: false }), [330, 165]);
  await browser.close();
  await served.stop();
});

test('sound is off until it is asked for, and every sound has its picture', async () => {
  const served = await Served.start();
  served.show(turn(0.5));
  const { browser, page } = await phone('about:blank');
  await page.addInitScript(() => {
    window.contexts = [];
    const Own = window.AudioContext;
    window.AudioContext = class extends Own {
      constructor() {
        super();
        window.contexts.push(this);
      }
    };
  });
  await page.goto(served.links.phone);
  await page.waitForSelector('#gap.good');
  assert.equal(await page.evaluate(() => window.contexts.length), 0);
  await page.tap('#more > summary');
  assert.equal(await page.locator('#heard').textContent(), 'No sound');
  await page.tap('#tones');
  await until('running', () => page.evaluate(() => window.contexts[0]?.state === 'running'));
  await until('its picture', async () => /^▼ 0\.25 mm off: \d+ Hz$/.test(await page.locator('#heard').textContent()));
  served.show(turn(1));
  await until('stop', async () => (await page.locator('#heard').textContent()) === '■ stop: three high notes');
  served.show(take({ tone: null }));
  await until('knock', async () => (await page.locator('#heard').textContent()) === '– no good reading: a low knock');
  await page.tap('#tones');
  await until('off', async () => (await page.locator('#heard').textContent()) === 'No sound');
  await browser.close();
  await served.stop();
});

test('speech says the instruction, hold still, taken, and the gap now and then', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await phone('about:blank');
  await page.addInitScript(() => {
    window.said = [];
    // Voices are the browser's own objects: one of ours stands in for them.
    Object.defineProperty(SpeechSynthesisUtterance.prototype, 'voice', { writable: true, value: null });
    Object.defineProperty(window, 'speechSynthesis', {
      value: { speaking: false, getVoices: () => [{ name: 'Plain' }], speak: ({ text, volume, voice }) => { window.said.push(text); window.as = [volume, voice?.name]; }, cancel: () => {} },
    });
  });
  await page.goto(served.links.phone);
  await page.waitForSelector('#gap.good');
  assert.deepEqual(await page.evaluate(() => window.said), []);
  await page.tap('#more > summary');
  await page.tap('#speech');
  const says = (what) => until(what, () => page.evaluate((text) => window.said.includes(text), what));
  served.show(take({ number: 8 }));
  await says('clip the head on at bottom right, and take');
  await says('2.35, within');
  served.show(take({ number: 9, state: 'hold' }));
  await says('Hold still.');
  served.show(take({ number: 10, state: 'taken' }));
  await says('Taken.');
  // Volume and voice are those that somebody chose.
  await page.selectOption('#voice', 'Plain');
  await page.fill('#volume', '20');
  served.show(take({ number: 11, instruction: 'take bottom' }));
  await says('take bottom');
  await until('as chosen', () => page.evaluate(() => Math.abs(window.as[0] - 0.2) < 0.001 && window.as[1] === 'Plain'));
  served.child.kill('SIGSTOP');
  await says('Not live.');
  served.child.kill('SIGCONT');
  await browser.close();
  await served.stop();
});

test('the board page sounds when its key is pressed', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await fullScreen(served.links.board);
  await page.waitForSelector('#gap');
  await page.keyboard.press('s');
  await until('its picture', async () => (await page.locator('#foot').textContent()).includes('♪ ● within'));
  await browser.close();
  await served.stop();
});
