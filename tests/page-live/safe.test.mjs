// What must not happen: a request elsewhere, a script of others, a page that only some can read.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { axeFindsNothing } from './axe.mjs';
import { BOARD, draws, fullScreen, launch, pageOf, phone, reads, Served, until } from './served.mjs';
import { adjusters, asked, doubtful, marking, stations, survey, take, taping, turn } from './states.mjs';

const EVIL = '<img src=x onerror="window.done=1"><script>window.done=1</script>';

// The same wherever a person's words go: with a head, asked, with points, with lengths.
function evils() {
  const named = (all, name) => all.map((one) => ({ ...one, [name]: EVIL }));
  return [
    evil(),
    { ...evil(), number: 61, question: { asks: EVIL, yes: 'yes' } },
    { ...marking({ number: 62 }), marks: named(marking().marks, 'name'), instruction: EVIL },
    { ...taping({ number: 63 }), lengths: named(named(taping().lengths, 'called'), 'taped'), lines: [EVIL] },
  ];
}

function evil() {
  return take({
    number: 60,
    title: EVIL,
    instruction: `take ${EVIL}`,
    message: { says: EVIL, bad: true },
    lines: [EVIL],
    cautions: [EVIL],
    place: { called: EVIL, at: [-1012, 0], still_at: EVIL },
    stations: stations('top left').map((station) => ({ ...station, name: EVIL })),
    adjusters: adjusters({ name: 'left', turn: { clockwise: false, says: EVIL, left: -0.5, of: -0.5 } }).map((adjuster) => ({ ...adjuster, name: EVIL })),
    gap: { name: EVIL, digits: EVIL, unit: EVIL, is: 'good', why: null, verdict: { is: 'within', says: EVIL, shape: '●' } },
    aim: { to: EVIL, to_go: EVIL, to_go_mm: 1, within_mm: 0.05, share: 0.5, there: false },
    whole: { verdict: { is: 'outside', says: EVIL, shape: '✕' }, headline: EVIL, because: EVIL },
    trouble: { says: EVIL, bad: true },
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
    for (const state of [...evils(), take(), turn(0.3), turn(1, { number: 13 }), asked(), doubtful()]) {
      served.show(state);
      await draws(page, state.number);
    }
    assert.deepEqual(violations, [], 'the page itself keeps to the policy');
    assert.equal(await page.evaluate(() => window.done), undefined);
    // Every request of the session, one by one.
    const { origin } = new URL(served.links.board);
    const paths = [...new Set(requests.map((url) => url.replace(origin, '')))].sort();
    console.log(`# asked: ${paths.join(' ')}`);
    assert.ok(paths.length > 5);
    const known = /^\/(board|phone|hello|favicon\.ico|state\?page=(board|phone)&units=mm|files\/[a-z]+\.(js|css))$/;
    assert.deepEqual(paths.filter((path) => !known.test(path)), []);
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
  const page = await pageOf(browser);
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

// Everything that a page may show: by the program's state, then by what somebody has opened or run into.
const STATES = {
  take: take(), turn: turn(0.4), there: turn(1, { number: 13 }), asked: asked(), doubtful: doubtful(),
  marks: marking(), tape: taping(), survey: survey(), over: take({ number: 51, state: 'over', state_says: 'done', words: [] }),
};

test('axe finds nothing in any state, dark and light, with forced colours, and nothing moves where that is asked', async () => {
  const served = await Served.start();
  served.show(take());
  const [board, hand] = await both(served);
  await hand.page.tap('#more > summary');
  await hand.page.tap('#hotspot > summary');
  for (const [name, state] of Object.entries(STATES)) {
    served.show(state);
    for (const [page, at] of [[board.page, 'board'], [hand.page, 'phone']]) {
      await draws(page, state.number);
      await axeFindsNothing(page, `${at}: ${name}`);
    }
  }
  // Where something moves unless it is asked not to, this would find it.
  served.show(take());
  await draws(board.page, take().number);
  await board.page.emulateMedia({ reducedMotion: 'no-preference', forcedColors: 'none' });
  await until('the head’s outline calls', () => board.page.evaluate(() => document.getAnimations().length > 0));
  await board.browser.close();
  await hand.browser.close();
  await served.stop();
});

test('axe finds nothing in what is opened: code, frame, tape, notes and photos, refusals, a lost connection', async () => {
  const served = await Served.start();
  served.show(take());
  const [board, hand] = await both(served);
  await board.page.waitForSelector('#gap');
  await hand.page.waitForSelector('#gap.good');
  for (const [key, selector] of [['a', '#code'], ['t', '#tape'], ['p', '#frame']]) {
    await board.page.keyboard.press(key);
    await board.page.waitForSelector(selector);
    await axeFindsNothing(board.page, selector);
  }
  await board.page.keyboard.press('y');
  await reads(board.page, '#frame', 'The line across, taped:');
  await axeFindsNothing(board.page, 'the frame while a length is typed');
  await board.page.keyboard.press('Escape');
  await hand.page.tap('#more > summary');
  await hand.page.fill('#note', 'cable left of the lamp');
  await hand.page.tap('#note-form button');
  await reads(hand.page, '#kept', 'The note went to the program.');
  await axeFindsNothing(hand.page, 'a note was kept');
  await hand.page.setInputFiles('#photo', { name: 'a.gif', mimeType: 'image/gif', buffer: Buffer.from('GIF89a') });
  await reads(hand.page, '#kept', 'neither a JPEG nor a PNG');
  await axeFindsNothing(hand.page, 'a picture was refused');
  // A word that is gone: it stood before this state.
  await hand.page.evaluate(() => new MutationObserver(() => document.getElementById('big').click()).observe(document.documentElement, { attributeFilter: ['data-number'] }));
  served.show(take({ number: 8 }));
  await reads(hand.page, '#refused', 'Things have changed');
  await axeFindsNothing(hand.page, 'a word was refused');
  served.child.kill('SIGSTOP');
  await until('given up', async () => (await hand.page.locator('#link').textContent()) === '✕ connection lost');
  await axeFindsNothing(hand.page, 'phone: no connection');
  await reads(board.page, '#foot', '✕ connection lost');
  await axeFindsNothing(board.page, 'board: no connection');
  served.child.kill('SIGCONT');
  await board.browser.close();
  await hand.browser.close();
  const looks = await phone(served.links.looks);
  await looks.page.waitForSelector('#gap.good');
  await axeFindsNothing(looks.page, 'phone: only looks');
  await looks.page.goto('about:blank');
  await looks.page.goto(`${served.links.phone.split('#')[0]}#k=AAAAAAAAAAAAAAAAAAAAAA`);
  await reads(looks.page, '#refused', 'This key is of another run');
  await axeFindsNothing(looks.page, 'phone: a wrong key');
  await looks.browser.close();
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
