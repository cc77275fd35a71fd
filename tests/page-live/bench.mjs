// How long it takes from the light to the digits. The light moves: an adjuster is turned by a click, and
// the moment is looked for in which the new gap is painted on the board page; it goes: the emitter of
// the simulated room is switched off, and the moment in which it is painted that there is no gap. Beside it
// the state at a listener that paints nothing, and the terminal's screen. What a person sees counts: the
// first time that the number is within a tenth of the way of what then stands there. All clocks are this
// computer's, and begin before the room is told. Then an hour's worth of states through the server, and
// its memory.

import { spawn } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fullScreen, left, Served, until } from './served.mjs';
import { take } from './states.mjs';
import { Work } from './work.mjs';

const TIMES = Number(process.env.TIMES ?? 100);

function quantile(values, share) {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))];
}

function told(name, values) {
  console.log(`${name}: p50 ${quantile(values, 0.5).toFixed(0)} ms, p99 ${quantile(values, 0.99).toFixed(0)} ms, n ${values.length}`);
}

const now = () => performance.timeOrigin + performance.now();
const pause = (ms) => new Promise((done) => setTimeout(done, ms));
const ADJUSTER = /name = "upper"/.test(readFileSync(process.env.JOB, 'utf8')) ? 'upper' : 'left';
// As much of a turn as a hand makes at once: the room's sheet moves in one step.
const CLICK = 0.08;

// The number of a text; none where it holds none.
const numberOf = (digits) => (/^[-−+0-9.]+$/.test(digits ?? '') ? Number(digits.replace('−', '-')) : null);

// When what was seen since came to what then stood there, after the light was changed at `at`.
function cameTo(seen, at, before) {
  const last = seen.at(-1)?.number ?? null;
  if (seen.length === 0 || (last === null) !== (before === null) && last !== null) return null;
  const near = (number) => (last === null ? number === null : number !== null && Math.abs(number - last) <= 0.1 * Math.abs(last - before) + 0.01);
  const first = seen.find(({ number }) => near(number));
  return first.at - at;
}

// Changes the light so often, and looks at each of these eyes: lists of what was seen, with its time.
async function changed(work, eyes, change, back) {
  const ms = new Map(eyes.map((eye) => [eye, []]));
  for (let time = 0; time < TIMES; time += 1) {
    await until('a gap at rest', () => eyes.every((eye) => eye.length && eye.at(-1).number !== null && now() - eye.at(-1).at > 1200));
    await pause(Math.random() * 300);
    const before = eyes.map((eye) => [eye.length, eye.at(-1).number]);
    const at = now();
    await work.moved(change(time));
    await until('seen', () => eyes.every((eye, index) => eye.length > before[index][0]));
    await pause(900);
    eyes.forEach((eye, index) => {
      const took = cameTo(eye.slice(before[index][0]), at, before[index][1]);
      if (took !== null) ms.get(eye).push(took);
    });
    if (back) await work.moved(back);
  }
  return eyes.map((eye) => ms.get(eye));
}

const click = (time) => `turn ${ADJUSTER} ${time % 2 ? CLICK : -CLICK}`;

async function light() {
  const work = await Work.start();
  const { browser, page } = await fullScreen(work.links.board);
  await page.waitForSelector('#gap');
  const painted = [];
  await page.exposeFunction('painted', (digits, at) => painted.push({ number: numberOf(digits), at }));
  await page.evaluate(() => {
    let was = null;
    new MutationObserver(() => {
      const digits = document.querySelector('#gap .digits')?.textContent.split(' ')[0];
      if (digits === was) return;
      was = digits;
      // The frame after the one in which it was drawn.
      requestAnimationFrame(() => setTimeout(() => window.painted(digits, performance.timeOrigin + performance.now())));
    }).observe(document.getElementById('stage'), { childList: true });
  });
  // The same moment at a listener that paints nothing: what the browser takes is the rest.
  const heard = [];
  work.came = ({ gap }) => {
    const number = numberOf(gap.digits);
    if (!heard.length || number !== heard.at(-1).number) heard.push({ number, at: now() });
  };
  await work.moved(click(1));
  for (const [name, change, back] of [['moves', click], ['goes', () => 'light off', 'light on']]) {
    const [heard_ms, page_ms] = await changed(work, [heard, painted], change, back);
    told(`light ${name}, to the state at a listener`, heard_ms);
    told(`light ${name}, to digits painted on the board page`, page_ms);
  }
  await browser.close();
  await work.stop();
}

// The screen of the same command, on a terminal of its own (util-linux's script makes one).
async function screen() {
  const work = await Work.start();
  work.trim.child.kill('SIGTERM');
  await new Promise((done) => work.trim.child.once('exit', done));
  const command = `stty rows 30 cols 100; ${process.env.SKIMGAUGE} watch --no-record --job ${process.env.JOB} --head ${join(work.folder, 'head')}`;
  const child = spawn('script', ['-qfec', command, '/dev/null'], { stdio: ['pipe', 'pipe', 'inherit'] });
  left.add(() => child.kill('SIGKILL'));
  let wrote = '';
  let at = null;
  child.stdout.on('data', (piece) => {
    wrote += piece.toString().replace(/\x1b\[[0-9;?]*[a-zA-Z]/g, '|');
    if (at === null && /no light/.test(wrote)) at = now();
  });
  await pause(4000);
  const ms = [];
  for (let time = 0; time < TIMES; time += 1) {
    await pause(2500 + Math.random() * 300);
    [wrote, at] = ['', null];
    const from = now();
    await work.moved('light off');
    await until('written', () => at !== null);
    ms.push(at - from);
    await work.moved('light on');
  }
  told('light goes, to the terminal’s screen', ms);
  child.stdin.write('q');
  child.kill('SIGKILL');
  await work.stop();
}

async function memory() {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await fullScreen(served.links.board);
  await page.waitForSelector('#gap');
  const rss = () => Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${served.child.pid}/status`, 'utf8'))[1]) / 1024;
  const of = [];
  // An hour at thirty a second.
  for (let number = 0; number < 108_000; number += 1) {
    served.show(take({ number }));
    if (number % 100 === 99) await new Promise((done) => served.child.stdin.write('', done));
    if (number % 10_800 === 5_400) of.push(rss());
  }
  await until('the last', async () => (await page.evaluate(() => document.getElementById('stage').childElementCount)) > 0);
  console.log(`the server's memory over 108000 states, MB: ${of.map((mb) => mb.toFixed(1)).join(' ')}`);
  await browser.close();
  await served.stop();
}

await light();
await screen();
await memory();
process.exit(0);
