// The command's proof with its page, and a finger of ours on the display: real touch events into a
// real browser, with fractional places and the times that are wanted.

import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { BOARD, fullScreen, left, means, until } from './served.mjs';
import { Work } from './work.mjs';

export const pause = (ms) => new Promise((done) => setTimeout(done, ms));

export class Proof {
  static async start(args = [], { folder = mkdtempSync(join(tmpdir(), 'skimgauge-proof-')), screen = BOARD, window = screen } = {}) {
    const proof = new Proof();
    proof.folder = folder;
    proof.saved = join(folder, 'proof.json');
    proof.lines = [];
    proof.told = [];
    proof.child = spawn(process.env.SKIMGAUGE, [
      'prove', '--job', process.env.JOB, '--record', join(folder, 'record.sqlite'), '--save', proof.saved, '--json', ...args,
    ], { stdio: ['pipe', 'pipe', 'pipe'] });
    left.add(() => proof.child.kill('SIGKILL'));
    createInterface({ input: proof.child.stdout }).on('line', (line) => proof.lines.push(line));
    createInterface({ input: proof.child.stderr }).on('line', (line) => proof.told.push(line));
    const address = (start) => proof.told.find((line) => line.startsWith(start))?.split(': ').pop();
    await until('the addresses', () => address('phone, acts'));
    proof.links = { proof: address('proof, on'), phone: address('phone, acts'), looks: address('phone, acts') };
    proof.looking = Work.prototype.look.call(proof);
    Object.assign(proof, await fullScreen(proof.links.proof, { screen, window }));
    await until('a first mark', () => proof.state?.proof?.target);
    const [width, height] = await proof.page.evaluate(() => [innerWidth, innerHeight]);
    proof.size = { width, height };
    return proof;
  }

  // Pixels of a place on the board, fractions and all.
  pixels({ x_mm: x, y_mm: y }) {
    const { width_mm: width, height_mm: height } = this.state.image;
    return {
      x: Math.min(Math.max((x / width + 0.5) * this.size.width, 0), this.size.width),
      y: Math.min(Math.max((-y / height) * this.size.height, 0), this.size.height),
    };
  }

  send(type, places, at) {
    const touchPoints = places.map((place, id) => ({ ...this.pixels(place), id, radiusX: 4, radiusY: 4, force: 0.6 }));
    return this.cdp.send('Input.dispatchTouchEvent', { type, touchPoints, ...(at && { timestamp: at / 1000 }) });
  }

  async tap(...places) {
    await this.send('touchStart', places);
    await this.send('touchEnd', []);
  }

  // Through these places, one report every `every` ms by the browser's own clock.
  async draw(places, every = 10) {
    const from = Date.now();
    const sent = [this.send('touchStart', [places[0]], from)];
    places.slice(1).forEach((place, at) => sent.push(this.send('touchMove', [place], from + (at + 1) * every)));
    await Promise.all(sent);
    // What has a later time than now is not lifted before it.
    await pause(Math.max(0, from + places.length * every - Date.now()));
    await this.send('touchEnd', [], from + places.length * every);
  }

  // Until something else is asked.
  async next(number) {
    await until('the next thing asked', () => this.state.number !== number);
  }

  // What is pressed as soon as something new stands there means what stood there before.
  async key(key) {
    await means(this.page, this.state.number);
    await this.page.keyboard.press(key);
  }

  // Plays what is asked until `stop` says so. `seen(place, target)` is where the display sees what
  // is touched there.
  async play({ seen = (place) => place, stop = () => false, mark, line, hold, off, dashes } = {}) {
    for (let step = 0; step < 200; step += 1) {
      const { state } = this;
      if (state.proof.state === 'over' || stop(state)) return;
      const { number } = state;
      const { target } = state.proof;
      if (!target) {
        await off?.(state);
        await until('hands off is over', () => this.state.number !== number);
        continue;
      }
      if (target.is === 'mark') await (mark ?? ((at) => this.tap(seen(at, target))))(target.at, state);
      if (target.is === 'hold') await (hold ?? ((at) => this.held(seen(at, target))))(target.at);
      if (target.is === 'line') await (line ?? ((from, to) => this.line(from, to, seen)))(target.from, target.to);
      if (target.is === 'dashes') await (dashes ?? ((at) => this.dashes(at)))(target.at);
      await this.next(number);
    }
  }

  async held(at, scatter = () => [0.02, 0.03]) {
    const places = Array.from({ length: 245 }, (_, n) => {
      const [x, y] = scatter(n);
      return { x_mm: at.x_mm + x + (n % 2 ? 0.08 : -0.08), y_mm: at.y_mm + y };
    });
    await this.draw(places);
  }

  way(from, to, steps, seen = (place) => place) {
    return Array.from({ length: steps + 1 }, (_, n) => seen({
      x_mm: from.x_mm + (to.x_mm - from.x_mm) * n / steps,
      y_mm: from.y_mm + (to.y_mm - from.y_mm) * n / steps,
    }));
  }

  async line(from, to, seen) {
    await this.draw([...this.way(from, to, 100, seen), ...this.way(to, from, 100, seen)]);
  }

  async dashes(at, joined = 0) {
    const dash = (n) => this.way({ x_mm: at.x_mm - 30, y_mm: at.y_mm + 30 - n * 6 }, { x_mm: at.x_mm + 30, y_mm: at.y_mm + 30 - n * 6 }, 10);
    let run = [];
    for (let n = 0; n < 10; n += 1) {
      run.push(...dash(n));
      // Not lifted for the display: the next runs into it.
      if (n < joined) continue;
      await this.draw(run);
      run = [];
    }
    // Fewer are seen than were drawn: that only the person knows.
    if (joined) await this.key('Space');
  }

  // Ends it with what there is.
  async enough() {
    this.child.stdin.write('quit\n');
    return this.end();
  }

  // What it came to, once it is over.
  async end() {
    await this.browser.close();
    if (this.child.exitCode === null) await once(this.child, 'exit');
    const judged = JSON.parse(this.lines.join('\n'));
    return { judged, code: this.child.exitCode, made: JSON.parse(readFileSync(this.saved, 'utf8')) };
  }

  clean() {
    rmSync(this.folder, { recursive: true, force: true });
  }
}
