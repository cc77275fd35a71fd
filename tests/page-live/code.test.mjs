// The code on the board page is read by a camera's reader, and holds the address that only looks.

import assert from 'node:assert/strict';
import { createRequire } from 'node:module';
import { test } from 'node:test';
import { fullScreen, pageOf, Served } from './served.mjs';
import { take } from './states.mjs';

const jsqr = createRequire(import.meta.url)('jsqr');

test('the code shows the address that looks', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await fullScreen(served.links.board);
  await page.waitForSelector('#gap');
  await page.keyboard.press('a');
  await page.waitForSelector('#code .code');
  const shot = await page.locator('#code .code-paper').screenshot();
  // Read in another page, where nothing forbids to load what was seen.
  const reader = await pageOf(browser);
  const { data, width, height } = await reader.evaluate(async (png) => {
    const image = await createImageBitmap(await (await fetch(`data:image/png;base64,${png}`)).blob());
    const canvas = new OffscreenCanvas(image.width, image.height).getContext('2d');
    canvas.drawImage(image, 0, 0);
    return { data: [...canvas.getImageData(0, 0, image.width, image.height).data], width: image.width, height: image.height };
  }, shot.toString('base64'));
  const read = jsqr(Uint8ClampedArray.from(data), width, height);
  assert.equal(read?.data, served.links.looks);
  assert.notEqual(read.data, served.links.phone);
  await browser.close();
  await served.stop();
});
