// Whole trims in the simulated room, from the first clip to the verdict, of a job with few stations: what
// is tried here is the page, and each station takes a person's time.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { BOARD, fullScreen, phone, pictures, stands, until } from './served.mjs';
import { fewStations, Work } from './work.mjs';

// Both units on both pages: what a step of the trim is looked at in.
const LOOKS = [['mm', 'dark'], ['in', 'dark'], ['in', 'light'], ['mm', 'light']];

// Each take in the record says by which page its word came.
async function saidBy(work, page) {
  const takes = await work.takes();
  assert.ok(takes.length >= 4);
  assert.deepEqual([...new Set(takes.map(({ by }) => by))], [page]);
}

// Goes through the looks, another with every thing that is asked, and keeps a picture of a take and of a
// turn in each. `change(units, theme)` brings the page there from the look before.
class Looks {
  constructor(page, name, change) {
    Object.assign(this, { page, name, change, at: 0, number: null, seen: new Set() });
  }

  async each({ state }) {
    if (!state || state.question) return;
    const what = state.adjusters.some(({ turn }) => turn) ? 'turn' : 'take';
    if (this.number !== null && this.number !== state.number && this.shot) {
      const [, before] = LOOKS[this.at];
      this.at = (this.at + 1) % LOOKS.length;
      const [units, theme] = LOOKS[this.at];
      await this.change(units !== LOOKS.at(this.at - 1)[0], theme !== before);
      await until(`${units} ${theme}`, () => this.page.evaluate(([wanted, dark]) => {
        const { theme: now, units: shown } = document.documentElement.dataset;
        return now === dark && shown === wanted;
      }, [units, theme]));
      this.shot = false;
    }
    this.number = state.number;
    this.shot = true;
    const look = `${LOOKS[this.at].join('-')}-${what}`;
    if (this.seen.has(look)) return;
    await stands(this.page);
    this.seen.add(look);
    await this.page.screenshot({ path: `${pictures}/trim-${this.name}-${look}.png` });
  }

  assertAll() {
    const looked = new Set([...this.seen].map((look) => look.replace(/-(take|turn)$/, '')));
    assert.equal(looked.size, LOOKS.length, [...this.seen].join());
  }
}

// Of a board that nobody surveyed: within, or too close to call with what would settle it.
function assertOver(end) {
  assert.ok(['within', 'unsure'].includes(end.whole.verdict.is), end.whole.headline);
}

test('by touch, from the phone', async () => {
  const work = await Work.start(['--plain'], 'trim', fewStations());
  const { browser, context, page } = await phone(work.links.phone);
  const requests = [];
  context.on('request', (request) => requests.push(request.url()));
  await page.waitForSelector('#gap.good');
  const looks = new Looks(page, 'phone', async (units, theme) => {
    await page.tap('#more > summary');
    if (units) await page.tap('#units');
    if (theme) await page.tap('#theme');
    await page.tap('#more > summary');
  });
  const end = await work.play({
    // What has gone meanwhile is not waited for: it is pressed again where it comes back.
    say: () => page.tap('#big', { timeout: 20_000 }).catch(() => {}),
    yes: () => page.tap('#yes', { timeout: 20_000 }).catch(() => {}),
    page,
    each: (at) => looks.each(at),
  });
  assertOver(end);
  looks.assertAll();
  await page.screenshot({ path: `${pictures}/trim-phone-end.png` });
  const { origin } = new URL(work.links.phone);
  assert.ok(requests.every((url) => url.startsWith(`${origin}/`)));
  assert.ok(work.trim.lines.some((line) => line.includes('phone on this computer: take')), 'the terminal says who said what');
  await saidBy(work, 'phone on this computer');
  await browser.close();
  await work.stop();
});

// Two hundred touches a second, as many as the machine can; ends when it is told.
function storm(cdp) {
  const ghosts = { fell: 0, over: false };
  ghosts.done = (async () => {
    while (!ghosts.over) {
      const from = performance.now();
      const touchPoints = Array.from({ length: 10 }, (_, id) => ({ x: (ghosts.fell * 97 + id * 191) % BOARD.width, y: (ghosts.fell * 53 + id * 113) % BOARD.height, id }));
      await Promise.all([
        cdp.send('Input.dispatchTouchEvent', { type: 'touchStart', touchPoints }),
        cdp.send('Input.dispatchTouchEvent', { type: 'touchEnd', touchPoints: [] }),
      ]);
      ghosts.fell += touchPoints.length;
      await new Promise((done) => setTimeout(done, Math.max(0, 50 - (performance.now() - from))));
    }
  })();
  return ghosts;
}

test('by keyboard, from the board page, while ghost touches fall on it', async () => {
  const work = await Work.start(['--plain'], 'trim', fewStations());
  const { browser, page, cdp } = await fullScreen(work.links.board);
  await page.waitForSelector('#gap');
  const ghosts = storm(cdp);
  // Nothing is taken by a touch: at first nobody says a word.
  await until('two thousand touches', () => ghosts.fell >= 2000);
  assert.ok(work.state.stations.every(({ gap }) => gap === null), 'nothing was taken');
  const said = () => work.trim.lines.filter((line) => line.includes('board page on this computer: '));
  assert.deepEqual(said(), []);
  let pressed = 0;
  const press = () => {
    pressed += 1;
    return page.keyboard.press('Enter');
  };
  const looks = new Looks(page, 'board', async (units, theme) => {
    if (units) await page.keyboard.press('i');
    if (theme) await page.keyboard.press('l');
  });
  const end = await work.play({ say: press, yes: press, page, each: (at) => looks.each(at) });
  ghosts.over = true;
  await ghosts.done;
  assertOver(end);
  looks.assertAll();
  await page.screenshot({ path: `${pictures}/trim-board-end.png` });
  console.log(`# ${ghosts.fell} touches fell, ${pressed} keys were pressed, ${said().length} words were heard`);
  assert.ok(said().length <= pressed, 'no word but those of the keyboard');
  await saidBy(work, 'board page on this computer');
  await browser.close();
  await work.stop();
});
