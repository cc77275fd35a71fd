// What is told to who hears the page instead of seeing it: what has changed and matters, and not the
// digits, which change with every reading. At most once in two seconds; of what changed meanwhile the
// newest.

import { linkHeard } from './link.js';

const EVERY_MS = 2000;
// What comes and goes by itself is told once it has stood so long: a gap at its limit, a knock that is over.
const STANDS_MS = { gap: 1500, trouble: 700 };

// A part is a text, or one that is told anew only where its key is another: what counts down is no news.
const saysOf = (part) => part?.says ?? part ?? '';
const keyOf = (part) => part?.key ?? part ?? '';

export class Announcer {
  // speak(text); now() in ms; later(what, ms): passed in where a test has a clock of its own.
  constructor(speak, now = () => performance.now(), later = (what, ms) => setTimeout(what, ms)) {
    this.speak = speak;
    this.now = now;
    this.later = later;
    this.told = {};
    this.parts = {};
    this.since = {};
    this.at = -Infinity;
    this.waits = false;
  }

  // Parts with a name each: what changed of them is told. One that is not there is as it was.
  hear(parts) {
    const now = this.now();
    for (const [name, part] of Object.entries(parts)) {
      if (keyOf(this.parts[name]) !== keyOf(part)) this.since[name] = now;
    }
    this.parts = parts;
    this.look();
  }

  // Tells what is to be told now, or looks again when it is.
  look() {
    if (this.waits) return;
    const news = this.news();
    if (!news.length) return;
    const left = Math.max(this.at + EVERY_MS - this.now(), Math.min(...news.map(([name]) => this.left(name))));
    if (left <= 0) {
      this.tell();
      return;
    }
    this.waits = true;
    this.later(() => {
      this.waits = false;
      this.look();
    }, left);
  }

  // How long a part has to stand yet, ms; at first everything is told as it is.
  left(name) {
    if (this.at === -Infinity) return 0;
    return (this.since[name] ?? -Infinity) + (STANDS_MS[name] ?? 0) - this.now();
  }

  news() {
    return Object.entries(this.parts).filter(([name, part]) => keyOf(this.told[name]) !== keyOf(part));
  }

  tell() {
    const news = this.news().filter(([name]) => this.left(name) <= 0);
    for (const [name, part] of news) this.told[name] = part;
    const says = news.map(([, part]) => saysOf(part)).filter(Boolean);
    if (says.length) {
      this.at = this.now();
      this.speak(says.map((part) => (/[.!?:]$/.test(part) ? part : `${part}.`)).join(' '));
    }
    this.look();
  }
}

// The words of a text whose numbers run on by themselves: seconds to go, how fast something drifts.
const wordsOf = (text) => text.replace(/[-+]?\d+(\.\d+)?/g, '#');

// What of a state matters.
export function told(link, state) {
  const { gap, question, instruction, trouble, message, whole } = state;
  const asks = question ? question.asks : instruction;
  const stands = gap.is === 'good' ? gap.verdict?.says ?? '' : gap.why ?? 'no reading';
  // A head on its way somewhere measures nothing.
  const quiet = trouble || state.state === 'move' || state.tilts.length || state.lengths.length || state.marks.length;
  const parts = {
    link: linkHeard(link),
    asks: state.state === 'hold' ? { says: asks, key: wordsOf(asks) } : asks,
    trouble: trouble && !asks.includes(trouble.says) ? trouble.says : '',
    message: message?.says ?? '',
    gap: quiet ? '' : stands && `gap ${stands}`,
    whole: whole?.headline ?? '',
  };
  // A moment in which nothing is asked for; what came of it is told.
  if (state.state === 'saving') delete parts.asks;
  return parts;
}
