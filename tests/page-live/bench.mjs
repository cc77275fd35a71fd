// How long it takes from the light to the digits: the emitter of the simulated room is switched off
// and on, and the moment is looked for in which the board page has painted that there is no gap; beside
// it, the one in which the terminal's screen has written it. All clocks are this computer's. Then an
// hour's worth of states through the server, and its memory.

import { spawn } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
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

async function light() {
  const work = await Work.start();
  const { browser, page } = await fullScreen(work.links.board);
  await page.waitForSelector('#gap');
  const painted = [];
  const switched = [];
  await page.exposeFunction('painted', (good, at) => painted.push({ good, at }));
  await page.evaluate(() => {
    let was = null;
    new MutationObserver(() => {
      const good = !document.querySelector('#gap .digits')?.textContent.startsWith('–');
      if (good === was) return;
      was = good;
      // The frame after the one in which it was drawn.
      requestAnimationFrame(() => setTimeout(() => window.painted(good, performance.timeOrigin + performance.now())));
    }).observe(document.getElementById('stage'), { childList: true });
  });
  createInterface({ input: work.room.child.stdout }).on('line', (line) => {
    if (line.startsWith('the emitter is')) switched.push({ on: line.endsWith('on'), at: performance.timeOrigin + performance.now() });
  });
  // The same moment at a listener that paints nothing: what the browser takes is the rest.
  const heard = [];
  work.came = ({ gap }) => {
    const good = gap.is === 'good';
    if (good !== heard.at(-1)?.good) heard.push({ good, at: performance.timeOrigin + performance.now() });
  };
  const [page_ms, heard_ms] = [[], []];
  for (let time = 0; time < TIMES; time += 1) {
    await until('a gap', () => work.state?.gap.is === 'good');
    await new Promise((done) => setTimeout(done, 700 + Math.random() * 300));
    const [seen, before] = [painted.length, heard.length];
    await work.moved('light off');
    const { at } = switched.at(-1);
    const gone = await until('painted', () => painted.slice(seen).find(({ good }) => !good));
    page_ms.push(gone.at - at);
    heard_ms.push((await until('heard', () => heard.slice(before).find(({ good }) => !good))).at - at);
    await work.moved('light on');
  }
  told('light to the state, at a listener', heard_ms);
  told('light to digits painted on the board page', page_ms);
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
  const now = () => performance.timeOrigin + performance.now();
  let wrote = '';
  let at = 0;
  child.stdout.on('data', (piece) => {
    wrote += piece.toString().replace(/\x1b\[[0-9;?]*[a-zA-Z]/g, '|');
    if (!at && /no light/.test(wrote)) at = now();
  });
  const switched = [];
  createInterface({ input: work.room.child.stdout }).on('line', (line) => {
    if (line.startsWith('the emitter is')) switched.push(now());
  });
  await new Promise((done) => setTimeout(done, 4000));
  const ms = [];
  for (let time = 0; time < TIMES; time += 1) {
    await new Promise((done) => setTimeout(done, 1500 + Math.random() * 300));
    [wrote, at] = ['', 0];
    await work.moved('light off');
    await until('written', () => at);
    ms.push(at - switched.at(-1));
    await work.moved('light on');
  }
  told('light to the terminal’s screen', ms);
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
