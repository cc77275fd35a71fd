// The head covers the very place that it stands on: lines beside its outline point there.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { draws, fullScreen, Served } from './served.mjs';
import { IMAGE, stations, survey, take, turn } from './states.mjs';

// All that a trim and a set-out caution of: the foot is never higher.
const cautions = ["Invisible light: follow the emitter's label. Ladder: three points of contact. Turn gently, never past the first resistance; the emitter's maker says what may be turned.", 'Do not look into the head’s laser, and use no magnifier near it.'];
const [X, Y] = [IMAGE.width_mm / 2, -IMAGE.height_mm];

// The lines as they stand on the board, mm, and what is painted over the middle of each.
const leads = (page) => page.evaluate(() => {
  const path = document.querySelector('#head .lead');
  const box = document.querySelector('#head .head').getBBox();
  const lines = [...path.getAttribute('d').matchAll(/M([^L]+)L([^M]+)/g)].map(([, from, to]) => [from, to].map((end) => end.split(',').map(Number)));
  const covered = lines.flatMap(([[ax, ay], [bx, by]]) => {
    const { x, y } = new DOMPoint((ax + bx) / 2, (ay + by) / 2).matrixTransform(path.getScreenCTM());
    const all = document.elementsFromPoint(x, y);
    return all.slice(0, all.indexOf(path)).filter((over) => over.closest('#stage') && over.id !== 'stage').map((over) => `${over.textContent || over.tagName} over ${[x, y]}`);
  });
  return { lines, covered, outline: { left: box.x, top: box.y, right: box.x + box.width, bottom: box.y + box.height } };
});

const PLACES = [
  ['top left', -X, 0, 2], ['top', 0, 0, 3], ['right', X, Y / 2, 3], ['bottom right', X, Y, 2], ['bottom', 0, Y, 3], ['bottom left', -X, Y, 2],
  // A survey's points: inside, and close to the edges.
  ['1 at 0, -600', 0, -600, 4], ['2 at -500, -200', -500, -200, 4], ['3 at 300, -1000', 300, -1000, 4], ['4 at -300, -1140', -300, -1140, 4], ['5 at 700, -1050', 700, -1050, 4],
  // Its lower line would run into the texts at the bottom.
  ['6 at 200, -880', 200, -880, 3],
];

test('lines beside the head’s outline point at its place, and nothing lies over them', async () => {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await fullScreen(served.links.board);
  await page.waitForSelector('#gap');
  let number = 200;
  for (const [name, x, y, count] of PLACES) {
    const place = { called: name, at: [x, y], still_at: null };
    const here = name.includes(' at ') ? { ...survey(), place } : { ...turn(0.4), place, stations: stations(name) };
    for (const state of [here, { ...here, instruction: `${here.instruction}; ${here.instruction}; ${here.instruction}` }]) {
      number += 1;
      served.show({ ...state, number, cautions });
      await draws(page, number);
      const { lines, covered, outline } = await leads(page);
      assert.equal(lines.length, count, name);
      for (const [[ax, ay], [bx, by]] of lines) {
        // Along the line, straight on, is the place: two points and it lie in one line.
        assert.ok(Math.abs((bx - ax) * (-y - ay) - (by - ay) * (x - ax)) < 1e-6, `${name}: ${[ax, ay, bx, by]}`);
        for (const [px, py] of [[ax, ay], [bx, by]]) {
          assert.ok(Math.abs(px) <= X && py >= 0 && py <= -Y, `${name}: on the image`);
          assert.ok(px < outline.left || px > outline.right || py < outline.top || py > outline.bottom, `${name}: beside the outline`);
        }
      }
      assert.deepEqual(covered, [], name);
    }
  }
  await browser.close();
  await served.stop();
});
