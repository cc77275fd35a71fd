// What is told to who hears the page instead of seeing it: what has changed and matters, and not the
// digits, which change with every reading. At most once in two seconds; of what changed meanwhile the
// newest.

import { linkHeard } from './link.js';

const EVERY_MS = 2000;

export class Announcer {
  // speak(text); now() in ms; later(what, ms): passed in where a test has a clock of its own.
  constructor(speak, now = () => performance.now(), later = (what, ms) => setTimeout(what, ms)) {
    this.speak = speak;
    this.now = now;
    this.later = later;
    this.told = {};
    this.parts = {};
    this.at = -Infinity;
    this.waits = false;
  }

  // Parts with a name each: what changed of them is told.
  hear(parts) {
    this.parts = parts;
    if (this.waits || !this.news().length) return;
    const left = this.at + EVERY_MS - this.now();
    if (left <= 0) {
      this.tell();
      return;
    }
    this.waits = true;
    this.later(() => {
      this.waits = false;
      this.tell();
    }, left);
  }

  news() {
    return Object.entries(this.parts).filter(([name, says]) => (this.told[name] ?? '') !== says);
  }

  tell() {
    const says = this.news().map(([, part]) => part).filter(Boolean);
    this.told = { ...this.parts };
    if (!says.length) return;
    this.at = this.now();
    this.speak(says.map((part) => (/[.!?:]$/.test(part) ? part : `${part}.`)).join(' '));
  }
}

// What of a state matters.
export function told(link, state) {
  const { gap, question, instruction, trouble, message, whole } = state;
  const asks = question ? question.asks : instruction;
  const stands = gap.is === 'good' ? gap.verdict?.says ?? '' : gap.why ?? 'no reading';
  return {
    link: linkHeard(link),
    asks,
    trouble: trouble && !asks.includes(trouble.says) ? trouble.says : '',
    message: message?.says ?? '',
    gap: trouble || state.tilts.length || state.lengths.length || state.marks.length ? '' : stands && `gap ${stands}`,
    whole: whole?.headline ?? '',
  };
}
