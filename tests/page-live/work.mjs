// A whole simulated trim: the command with its page, a simulated head, and hands that move the head
// and turn the adjusters as the page says. Words are said by the page under test alone.

import { execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { left, until } from './served.mjs';

// So many states are shown while nothing that can be said changes, at most: some two minutes of them.
const STUCK = 4000;

export class Work {
  // The simulated head alone; its room goes away by itself should nobody end it.
  static async withRoom() {
    const work = new Work();
    work.folder = mkdtempSync(join(tmpdir(), 'skimgauge-page-'));
    const head = join(work.folder, 'head');
    work.room = work.run(['demo', '--head-at', head, '--seconds', '3000'], 'pipe');
    await until('the head', () => work.room.lines.some((line) => line.startsWith('A simulated head is at')));
    return work;
  }

  // `command`: trim, or another that takes a head and a page; `page` is one without being asked for.
  static async start(more = ['--plain'], command = 'trim', job = process.env.JOB) {
    const work = await Work.withRoom();
    const head = join(work.folder, 'head');
    const asked = command === 'page' ? [] : ['--page'];
    work.trim = work.run([command, '--job', job, '--head', head, '--record', join(work.folder, 'record.sqlite'), ...asked, ...more], 'pipe');
    // With --json the addresses stand apart from the lines that programs read.
    const said = () => [...work.trim.lines, ...work.trim.beside];
    await until('the addresses', () => said().some((line) => line.startsWith('phone, only looks: ')));
    const after = (start) => said().find((line) => line.startsWith(start)).slice(start.length);
    work.links = {
      board: after('board page, on this computer: '),
      phone: after('phone, acts: '),
      looks: after('phone, only looks: '),
    };
    work.look();
    return work;
  }

  run(args, stdin) {
    const child = spawn(process.env.SKIMGAUGE, args, { stdio: [stdin, 'pipe', 'pipe'] });
    const program = { child, lines: [], beside: [] };
    left.add(() => child.kill('SIGKILL'));
    createInterface({ input: child.stdout }).on('line', (line) => program.lines.push(line));
    createInterface({ input: child.stderr }).on('line', (line) => program.beside.push(line));
    return program;
  }

  // What the page is sent, as anybody who looks gets it.
  async look() {
    const { origin } = new URL(this.links.looks);
    const key = this.links.looks.split('#k=')[1];
    let text = '';
    this.states = 0;
    try {
      const answer = await fetch(`${origin}/state`, { headers: { Authorization: `Bearer ${key}` } });
      for await (const piece of answer.body.pipeThrough(new TextDecoderStream())) {
        text += piece;
        const events = text.split('\n\n');
        text = events.pop();
        for (const line of events.flatMap((event) => event.split('\n'))) {
          if (!line.startsWith('data: ')) continue;
          this.state = JSON.parse(line.slice(6));
          this.states += 1;
          this.came?.(this.state);
        }
      }
    } catch {
      // It is over.
    }
  }

  // Has a take said, on this page if on one, until there is one more: what was refused because the head
  // had not come to rest after all is said again, as a person would.
  async taken(say, page) {
    const count = () => this.state.stations.filter(({ gap }) => gap).length;
    const before = count();
    while (count() === before) {
      await until('ready', () => this.state?.state === 'ready' && !this.state.message?.bad);
      if (!(await this.isMeant(page))) continue;
      await say();
      await until('taken or refused', () => count() > before || this.state.message?.bad);
    }
  }

  // Waits until a press on this page, if one is given, means what stands now; false where things have
  // changed meanwhile.
  async isMeant(page) {
    if (!page) return true;
    const { number } = this.state;
    const meant = () => page.evaluate((wanted) => document.documentElement.dataset.meant === wanted, String(number));
    await until('a press means it', async () => this.state.number !== number || meant());
    return this.state.number === number;
  }

  hand(word) {
    this.room.child.stdin.write(`${word}\n`);
    this.handed = this.room.lines.length;
  }

  async moved(word) {
    const before = this.room.lines.length;
    this.hand(word);
    await until(`done: ${word}`, () => {
      if (this.room.child.exitCode !== null) throw new Error(`${word}: the simulated room has ended`);
      return this.room.lines.length > before;
    });
  }

  // Does what the page asks a person to do with the hands, until it says that all is done. `say`
  // presses what says the first word that is offered, `yes` what answers a question, both on this page.
  async play({ say, yes, page, each = async () => {} }) {
    let moved = { number: null, at: 0 };
    let at = null;
    let seat = '';
    const spoke = new Map();
    for (;;) {
      await each(this);
      const state = this.state;
      if (!state) {
        await pause(100);
        continue;
      }
      if (state.number !== moved.number) moved = { number: state.number, at: this.states };
      // By what the program showed meanwhile, not by the clock: a busy machine shows fewer.
      if (this.states - moved.at > STUCK) throw new Error(`it does not go on: ${JSON.stringify({ ...state, field: null })}`);
      if (state.state === 'over') return state;
      const turned = state.adjusters.find(({ turn }) => turn);
      const where = state.place?.at ? state.place.called : 'emitter';
      // A take that is made again is made from a new seat.
      const again = /lift/.test(state.instruction) && seat !== `${state.number}` && !turned;
      if (state.place && (where !== at || again)) {
        await this.moved(where === 'emitter' ? 'to emitter' : `to ${nameOf(state) ?? where}`);
        at = where;
        seat = `${state.number}`;
        await pause(300);
        continue;
      }
      if (state.question) {
        if (await this.isMeant(page) && once_(spoke, `${state.number}`)) await yes();
      } else if (turned && state.state === 'turn') {
        if (state.aim) await this.twist(state, turned);
        else await this.count(state, turned);
        if (!state.aim && await this.isMeant(page) && once_(spoke, `${state.number}`)) await say();
      } else if (['ready', 'hold', 'move'].includes(state.state) && this.worth(state)) {
        if (await this.isMeant(page) && once_(spoke, `${state.number}`)) await say();
      }
      await pause(120);
    }
  }

  // Whether the first word is worth saying: a take where the head rests, a readiness where the gap
  // is seen.
  worth({ words, state, gap, place }) {
    const first = words[0]?.word;
    if (first === 'take') return state === 'ready' && (place?.at ? gap.is === 'good' : true);
    if (first === 'ready') return gap.is === 'good';
    return first === 'begin';
  }

  // Where the gap does not tell, the hand counts: once, then it is said.
  async count({ number }, { name, turn }) {
    if (this.counted === number) return;
    this.counted = number;
    await this.moved(`turn ${name} ${turn.left.toFixed(4)}`);
  }

  async twist(state, { name, turn }) {
    if (state.aim.there) return;
    if (state.aim.to_go_mm === null) {
      // The light has left the eye's middle: the hand that clips the head on turns the eye to it.
      this.unseen = (this.unseen ?? 0) + 1;
      if (this.unseen % 10 === 9) await this.moved(`to ${nameOf(state)}`);
      return;
    }
    const twist = Math.max(-0.25, Math.min(0.25, 0.7 * turn.left));
    if (Math.abs(twist) < 0.003) return;
    await this.moved(`turn ${name} ${twist.toFixed(4)}`);
    await pause(500);
  }

  // The takes in the record, as it is when the program has ended.
  async takes() {
    if (this.trim.child.exitCode === null) {
      this.trim.child.kill('SIGTERM');
      await once(this.trim.child, 'exit');
    }
    const [, name] = /^name = "(.*)"/m.exec(readFileSync(process.env.JOB, 'utf8'));
    const job = JSON.parse(execFileSync(process.env.SKIMGAUGE, ['jobs', '--record', join(this.folder, 'record.sqlite'), 'show', name, '--as', 'json']));
    return job.events.filter(({ kind }) => kind === 'take').map(({ payload }) => payload);
  }

  async stop() {
    this.room.child.kill('SIGKILL');
    if (this.trim.child.exitCode === null) {
      this.trim.child.kill('SIGTERM');
      await once(this.trim.child, 'exit');
    }
    rmSync(this.folder, { recursive: true, force: true });
  }
}

// The practice job with four stations, the least that check one another; at the practice room's corners.
export function fewStations() {
  const places = [['top left', -952.3, 0], ['top right', 952.3, 0], ['bottom right', 952.3, -1265.4], ['bottom left', -952.3, -1265.4]];
  const sections = places.map(([name, right, up]) => `\n[[station]]\nname = "${name}"\nright = "${right} mm"\nup = "${up} mm"\n`);
  const job = join(mkdtempSync(join(tmpdir(), 'skimgauge-few-')), 'job.toml');
  writeFileSync(job, readFileSync(process.env.JOB, 'utf8') + sections.join(''));
  return job;
}

const pause = (ms) => new Promise((done) => setTimeout(done, ms));

// Once in two seconds for the same state: it may have been too early.
function once_(spoke, what) {
  const now = Date.now();
  if (now - (spoke.get(what) ?? 0) < 2000) return false;
  spoke.set(what, now);
  return true;
}

function nameOf(state) {
  return state.stations.find(({ here }) => here)?.name;
}
