// What a page must be for everybody: read by a machine's rules (axe-core).

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

// Dark and light, with the system's own colours and with forced ones.
export async function axeFindsNothing(page, what) {
  await page.evaluate(axe);
  for (const theme of ['dark', 'light']) {
    for (const media of [{ forcedColors: 'none', reducedMotion: 'reduce' }, { forcedColors: 'active', reducedMotion: 'no-preference' }]) {
      await page.emulateMedia(media);
      await page.evaluate((to) => { document.documentElement.dataset.theme = to; }, theme);
      const { violations } = await page.evaluate(() => window.axe.run());
      assert.deepEqual(violations.map(({ id, nodes }) => `${id}: ${nodes[0].html}`), [], `${what}, ${theme}, forced colours ${media.forcedColors}`);
      if (media.reducedMotion === 'reduce') {
        assert.equal(await page.evaluate(() => document.getAnimations().length), 0, `${what}: nothing moves where that is asked`);
      }
    }
  }
}
