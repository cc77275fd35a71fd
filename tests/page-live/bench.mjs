// How long it takes from the light to the digits, on the board page and on the terminal's screen of the same
// command, at the same moment. The light moves: an adjuster is turned by a click; it goes: the emitter of the
// simulated room is switched off. Looked for is the first moment in which what a person sees is within a
// tenth of the way, or a digit, of what then stands there. Beside it the same at a listener that paints nothing: the
// rest is the browser's. All clocks are this computer's, and begin before the room is told.
//
// That light goes is said after three scans of an emitter that has been watched for two seconds, and after
// 0.12 s of one that has not: it may pulse, and leave scans out (host/metrology, observer/dark). Both are
// looked at.
//
// Then an hour of states through the server as fast as it takes them, with people who come, say words and
// go, and its memory.

import { spawn } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { loadavg } from 'node:os';
import { join } from 'node:path';
import { fullScreen, left, Served, until } from './served.mjs';
import { take } from './states.mjs';
import { COLUMNS, ROWS, Terminal } from './terminal.mjs';
import { Work } from './work.mjs';

const TIMES = Number(process.env.TIMES ?? 100);
const [PART] = process.argv.slice(2);

const now = () => performance.timeOrigin + performance.now();
const pause = (ms) => new Promise((done) => setTimeout(done, ms));

function quantile(values, share) {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))];
}

// What a change of the light may take until it is read, ms.
const TARGET = 100;

function tell(name, values, target = null) {
  const p99 = quantile(values, 0.99);
  const met = target === null ? '' : `; target p99 ${target} ms ${p99 <= target ? 'met' : 'MISSED'}`;
  console.log(`${name}: p50 ${quantile(values, 0.5).toFixed(0)} ms, p99 ${p99.toFixed(0)} ms, most ${Math.max(...values).toFixed(0)} ms, n ${values.length}${met}`);
}

function tellLoad() {
  console.log(`# load ${loadavg().map((load) => load.toFixed(1)).join(' ')}`);
}

// The head hangs where this adjuster moves the gap most: a click, as much as a hand makes at once, by 0.2 mm.
// Four one way, four back, within the eye's reach; where the hand turns back, a click that does not count
// takes up the play.
const STATION = 'top left';
const RUN = 4;
const click = (time) => `turn left ${Math.floor(time / RUN) % 2 ? -0.08 : 0.08}`;

// What the number is shown to, mm, with what its rounding as a fraction of two adds.
const DIGIT = 0.01 + 1e-9;

// Somebody who looks: what stood there, and from when on.
class Eye {
  constructor(called) {
    Object.assign(this, { called, seen: [] });
  }

  sees(number, at = now()) {
    if (number !== undefined && number !== this.number) this.seen.push({ number, at });
  }

  get number() {
    return this.seen.at(-1)?.number;
  }

  // How long after `at` it was where it then stayed, but for the scatter of its last digit; `before` so many were
  // seen.
  cameTo(before, at) {
    const was = this.seen[before - 1].number;
    const { number } = this;
    const near = (seen) => (number === null ? seen === null : seen !== null && Math.abs(seen - number) <= Math.max(0.1 * Math.abs(number - was), DIGIT));
    return this.seen.slice(before).find((one) => near(one.number)).at - at;
  }
}

// `watch` on a terminal of its own (util-linux's script makes one), with its page.
async function watched() {
  const work = await Work.withRoom();
  const command = `stty rows ${ROWS} cols ${COLUMNS}; exec ${process.env.SKIMGAUGE} watch --no-record --page --job ${process.env.JOB} --head ${join(work.folder, 'head')}`;
  const child = spawn('script', ['-qfec', command, '/dev/null'], { stdio: ['pipe', 'pipe', 'inherit'], env: { ...process.env, TERM: 'xterm-256color' } });
  left.add(() => child.kill('SIGKILL'));
  const [eye, terminal] = [new Eye('written to the terminal’s screen'), new Terminal()];
  let said = '';
  child.stdout.setEncoding('utf8');
  child.stdout.on('data', (piece) => {
    if (!work.links) said += piece;
    terminal.write(piece);
    eye.sees(terminal.number());
  });
  await until('the addresses', () => said.includes('phone, only looks: ') && said.includes('Enter'));
  const link = (start) => new RegExp(`${start}: (\\S+)`).exec(said)[1];
  work.links = { board: link('board page, on this computer'), looks: link('phone, only looks') };
  child.stdin.write('\r');
  work.look();
  const stop = async () => {
    child.stdin.write('q');
    await Promise.race([new Promise((done) => child.once('exit', done)), pause(5000)]);
    child.kill('SIGKILL');
    work.room.child.kill('SIGKILL');
  };
  return { work, eye, stop };
}

// How far a page's clock is ahead of ours: by the answer that came fastest.
async function ahead(page) {
  const tries = [];
  for (let time = 0; time < 20; time += 1) {
    const from = now();
    const there = await page.evaluate(() => performance.timeOrigin + performance.now());
    const to = now();
    tries.push({ took: to - from, ahead: there - (from + to) / 2 });
  }
  return tries.sort((a, b) => a.took - b.took)[0].ahead;
}

async function painted(page) {
  const eye = new Eye('painted on the board page');
  const off = await ahead(page);
  const numberOf = (digits) => (/^[0-9.]+$/.test(digits) ? Number(digits) : null);
  await page.exposeFunction('painted', (digits, at) => eye.sees(numberOf(digits), at - off));
  await page.evaluate(() => {
    let was = null;
    const look = () => {
      const digits = document.querySelector('#gap .digits')?.textContent.split(' ')[0];
      if (digits === undefined || digits === was) return;
      was = digits;
      // Once the frame after the one in which it was drawn has begun.
      requestAnimationFrame(() => setTimeout(() => window.painted(digits, performance.timeOrigin + performance.now())));
    };
    new MutationObserver(look).observe(document.getElementById('stage'), { childList: true });
    look();
  });
  return eye;
}

// Changes the light so often, before these eyes; a number has then stood for so long, ms.
async function changed(work, eyes, { what, times, first, change, back, stood = 250, target = TARGET }) {
  const ms = new Map(eyes.map((eye) => [eye, []]));
  for (let time = 0; time < times; time += 1) {
    const unseen = first?.(time);
    if (unseen) await work.moved(unseen);
    await until('a gap', () => eyes.every(({ number }) => typeof number === 'number'));
    await pause(stood + Math.random() * 150);
    const before = eyes.map(({ seen }) => seen.length);
    const at = now();
    await work.moved(change(time));
    await until('all have seen it', () => eyes.every(({ seen }, index) => seen.length > before[index]));
    await pause(250);
    eyes.forEach((eye, index) => ms.get(eye).push(eye.cameTo(before[index], at)));
    if (back) await work.moved(back);
  }
  for (const eye of eyes) tell(`light ${what}, ${eye.called}`, ms.get(eye), target);
}

async function light() {
  const { work, eye: screen, stop } = await watched();
  const { browser, page } = await fullScreen(work.links.board);
  await page.waitForSelector('#gap');
  const heard = new Eye('at a listener that paints nothing');
  work.came = ({ gap }) => heard.sees(gap.is === 'absent' ? null : parseFloat(gap.digits));
  await work.moved(`to ${STATION}`);
  const eyes = [heard, await painted(page), screen];
  for (let time = 0; time < 3; time += 1) await work.moved(click(RUN));
  await pause(3000);
  tellLoad();
  await changed(work, eyes, { what: 'moves', times: TIMES, first: (time) => (time % RUN ? null : click(time)), change: click });
  const off = { times: Math.ceil(TIMES / 4), change: () => 'light off', back: 'light on' };
  await changed(work, eyes, { ...off, what: 'goes', stood: 2500 });
  await changed(work, eyes, { ...off, what: 'goes as soon as it has come', target: null });
  tellLoad();
  await browser.close();
  await stop();
}

// An hour at thirty a second.
const STATES = 108_000;
const LOOKED = 12;

// Somebody with a phone who looks for a moment, and says a word.
async function visitor({ links: { phone } }, seen) {
  const { origin, hash } = new URL(phone);
  const headers = { Authorization: `Bearer ${hash.slice(3)}` };
  const leaves = new AbortController();
  const looks = await fetch(`${origin}/state?page=phone`, { headers, signal: leaves.signal });
  await looks.body.getReader().read();
  const word = { method: 'POST', headers: { ...headers, Origin: origin, 'Content-Type': 'application/json' }, body: JSON.stringify({ word: 'take', seen }) };
  await fetch(`${origin}/word`, word);
  leaves.abort();
}

async function memory() {
  const served = await Served.start();
  served.show(take());
  const { browser, page } = await fullScreen(served.links.board);
  await page.waitForSelector('#gap');
  const mb = () => Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${served.child.pid}/status`, 'utf8'))[1]) / 1024;
  const of = [mb()];
  const from = now();
  for (let number = 1; number <= STATES; number += 1) {
    served.show(take({ number }));
    if (number % 100 === 0) await new Promise((done) => served.child.stdin.write('', done));
    if (number % 1000 === 0) await visitor(served, number);
    if (number % (STATES / LOOKED) === 0) of.push(mb());
  }
  const visits = () => served.heard.filter(({ left: gone }) => gone).length;
  await until('all visitors are gone', () => visits() >= STATES / 1000);
  console.log(`the server's memory over an hour's ${STATES} states in ${((now() - from) / 1000).toFixed(0)} s, with a board page and ${visits()} visits of a phone, MB: ${of.map((one) => one.toFixed(1)).join(' ')}`);
  await browser.close();
  await served.stop();
}

if (PART !== 'memory') await light();
if (PART !== 'light') await memory();
process.exit(0);
