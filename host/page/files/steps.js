// The job's steps, as the record has them: what is done, open, stale or left out, and what comes next.

import { keep, label, svg, text, wrapped } from './drawn.js';

const EVERY_MS = 5000;

// Asked for as long as somebody looks at them: they change with what is kept, not with a reading.
export class Steps {
  // changed(): whenever there are others to show.
  constructor(link, changed) {
    Object.assign(this, { link, changed, found: null, trouble: '', looked: false, as: '' });
    setInterval(() => { if (this.looked) this.ask(); }, EVERY_MS);
  }

  look(on) {
    this.looked = on;
    if (on) this.ask();
  }

  async ask() {
    const before = this.as;
    try {
      const answer = await fetch('/steps', { headers: this.link.headers(), cache: 'no-store' });
      const found = await answer.json();
      this.found = answer.ok ? found : null;
      this.trouble = (answer.ok ? found.trouble : found.refused) ?? '';
    } catch {
      this.trouble = 'The program was not reached: these may be old.';
    }
    this.as = JSON.stringify([this.found, this.trouble]);
    if (this.as !== before) this.changed();
  }

  // What comes before the steps: danger, or why there are none to show.
  get says() {
    if (this.trouble) return this.trouble;
    if (!this.found) return 'The job’s steps are being read.';
    return this.found.steps.length ? '' : 'No job is kept here: there are no steps.';
  }
}

function nothingNext(steps) {
  const any = (...states) => steps.some(({ state }) => states.includes(state));
  if (any('open', 'stale')) return 'The job is closed; what is open stays open.';
  if (!any('done', 'said', 'simulated')) return 'Every step was left out.';
  return any('left out') ? 'Nothing comes next; what was left out stays open.' : 'Nothing is left to do.';
}

// On the phone: what comes next first, then every step.
export function listSteps(steps, { says, next, first, command, list }) {
  const { found } = steps;
  text(says, steps.says);
  says.hidden = !steps.says;
  const coming = found?.next;
  text(next, coming ? `Next: ${coming.says}` : found?.steps.length ? nothingNext(found.steps) : '');
  text(command, coming?.command ?? '');
  command.hidden = !coming;
  first.hidden = !coming?.first.length;
  first.replaceChildren(...(coming?.first ?? []).map((point) => item('li', point)));
  list.replaceChildren(...(found?.steps ?? []).map((step) => {
    const one = item('li', `${step.shape} ${step.state}: ${step.says}`);
    one.className = step.now ? 'now' : step.state.replace(' ', '-');
    if (step.now) one.setAttribute('aria-current', 'step');
    if (step.behind) one.append(item('span', step.behind));
    return one;
  }));
}

function item(name, says) {
  const made = document.createElement(name);
  made.textContent = says;
  return made;
}

const PANEL = { width: 430, line: 38, size: 28, letters: 25 };

// On the board: small and dark, away from the head.
export function layOutSteps(steps, image, place) {
  const [half, tall] = [image.width_mm / 2, image.height_mm];
  const lines = [];
  // A path has no blanks: it is cut where the panel ends.
  const cut = new RegExp(`.{1,${PANEL.letters}}`, 'g');
  const told = (says, own) => wrapped(says, PANEL.letters).flatMap((line) => line.match(cut)).map((line) => [line, own]);
  if (steps.says) lines.push(...told(steps.says, 'soft'));
  // Their words alone: what they are stands on the phone.
  for (const { shape, state, word, now } of steps.found?.steps ?? []) {
    lines.push([`${now ? '▶' : shape} ${state}: ${word}`, now ? 'to-do' : state === 'stale' ? 'unsure' : 'soft']);
  }
  const next = steps.found?.next;
  if (next) lines.push(['', ''], ...told(next.says, 'to-do'), ...told(next.command, 'soft'));
  // On a board that is low its lines stand closer.
  const apart = Math.min(PANEL.line, (tall - 100) / Math.max(lines.length, 1));
  const height = lines.length * apart + 60;
  const left = place && place[0] < 0 ? half - PANEL.width - 40 : -half + 40;
  const top = keep((tall - height) / 2, 20, tall);
  return { lines, apart, box: { left, right: left + PANEL.width, top, bottom: top + height } };
}

export function drawSteps({ lines, apart, box: { left, right, top, bottom } }) {
  const group = svg('g', { id: 'steps' });
  group.append(svg('rect', { class: 'panel edged', x: left, y: top, width: right - left, height: bottom - top, rx: 8 }));
  lines.forEach(([line, own], index) => {
    group.append(label(line, left + 30, top + 50 + index * apart, PANEL.size * apart / PANEL.line, { class: own, 'text-anchor': 'start' }));
  });
  return group;
}
