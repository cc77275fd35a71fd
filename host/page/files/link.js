// The way to the program: the key, the stream of states, words. The newest state counts; what is
// older than a second is said to be stale; a word carries the number of the state that was seen.

const STALE_MS = 1000;
// Nothing for so long: the network took the connection away without a word, as one does whose phone
// walked out of its reach. It is made anew.
const DEAD_MS = 4000;
// A state has to have been drawn this long before a press can mean it.
const SEEN_MS = 250;

// The key stands behind the # of the address, once: from there it goes into this tab's memory.
function key() {
  const found = /^#k=([A-Za-z0-9_-]{22})$/.exec(location.hash);
  if (found) {
    sessionStorage.setItem('key', found[1]);
    history.replaceState(null, '', location.pathname);
  }
  return sessionStorage.getItem('key') ?? '';
}

export class Link {
  // page: 'phone' or 'board'; changed(link) is called whenever something is to be shown anew.
  constructor(page, units, changed) {
    this.page = page;
    this.units = units;
    this.changed = changed;
    this.state = null;
    this.is = 'connecting';
    this.says = '';
    this.hello = null;
    this.key = key();
    // What stands on the page, and what a press means: both are read by whoever tests it, too.
    this.drawn = null;
    this.meant = null;
    this.came = 0;
    this.tried = 0;
    this.leastLag = Infinity;
    this.run = 0;
    setInterval(() => this.look(), 200);
    // A tab that was put away comes back with what it had: that is old.
    document.addEventListener('visibilitychange', () => this.look());
    this.connect();
  }

  headers(more) {
    return { Authorization: `Bearer ${this.key}`, ...more };
  }

  become(is, says = '') {
    if (this.is !== is || this.says !== says) {
      this.is = is;
      this.says = says;
      this.changed(this);
    }
  }

  // Whether what is shown may be believed.
  get fresh() {
    return this.is === 'connected';
  }

  look() {
    const silent = performance.now() - Math.max(this.came, this.tried);
    if (this.is === 'connected' && silent > STALE_MS) this.become('stale');
    if (silent > DEAD_MS) this.stop?.abort();
  }

  show(units) {
    this.units = units;
    this.connect();
  }

  async connect() {
    const run = ++this.run;
    this.stop?.abort();
    let wait = 300;
    while (run === this.run) {
      const stop = new AbortController();
      this.stop = stop;
      this.tried = performance.now();
      try {
        if (!this.hello) await this.greet(stop.signal);
        await this.read(stop.signal, run);
        wait = 300;
      } catch (error) {
        if (run !== this.run) return;
        if (error instanceof Refused && error.status !== 503) {
          this.become('refused', error.message);
          if (error.status === 401) return;
        } else {
          this.become('lost', error instanceof Refused ? error.message : '');
        }
      }
      if (run !== this.run) return;
      if (this.is !== 'refused') this.become('lost', this.says);
      await new Promise((done) => setTimeout(done, wait));
      wait = Math.min(wait * 2, 3000);
    }
  }

  async greet(signal) {
    const answer = await fetch('/hello', { headers: this.headers(), signal, cache: 'no-store' });
    if (!answer.ok) throw await Refused.of(answer);
    this.hello = await answer.json();
  }

  async read(signal, run) {
    const answer = await fetch(`/state?page=${this.page}&units=${this.units}`, {
      headers: this.headers(),
      signal,
      cache: 'no-store',
    });
    if (!answer.ok) throw await Refused.of(answer);
    const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
    // A new connection has a way of its own.
    this.leastLag = Infinity;
    let text = '';
    for (;;) {
      const { done, value } = await reader.read();
      if (done || run !== this.run) return;
      text += value;
      const events = text.split('\n\n');
      text = events.pop();
      this.take(events);
    }
  }

  // Of several that came at once the last state is the newest.
  take(events) {
    let data = null;
    let lag = null;
    for (const event of events) {
      for (const line of event.split('\n')) {
        if (line.startsWith('id: ')) lag = performance.now() - Number(line.slice(4));
        if (line.startsWith('data: ')) data = line.slice(6);
      }
    }
    if (lag === null) return;
    this.came = performance.now();
    this.leastLag = Math.min(this.leastLag, lag);
    const late = lag - this.leastLag > STALE_MS;
    if (data !== null) this.state = JSON.parse(data);
    const is = late ? 'stale' : 'connected';
    if (this.is !== is || this.says) {
      this.become(is);
    } else if (data !== null) {
      this.changed(this);
    }
  }

  // This state is drawn now. A press means it once it has stood there a moment: until then it means
  // what stood before.
  draws({ number, units }) {
    const { dataset } = document.documentElement;
    dataset.units = units;
    if (number === this.drawn) return;
    this.drawn = number;
    dataset.number = String(number);
    const mean = () => {
      if (this.drawn !== number) return;
      this.meant = number;
      dataset.meant = String(number);
    };
    if (this.meant === null) mean();
    else setTimeout(mean, SEEN_MS);
  }

  // Says a word; what comes back is '' or why it was refused.
  say(word, seen = this.meant) {
    if (seen === null) return Promise.resolve('Nothing is shown yet: nothing was done.');
    return this.post('/word', { word, seen });
  }

  post(path, body) {
    return this.send(path, JSON.stringify(body), { 'Content-Type': 'application/json' });
  }

  async send(path, body, headers) {
    try {
      const answer = await fetch(`${path}?page=${this.page}`, {
        method: 'POST',
        headers: this.headers(headers),
        body,
        cache: 'no-store',
      });
      return answer.ok ? '' : (await Refused.of(answer)).message;
    } catch {
      return 'The program was not reached: nothing was done. Go nearer to the laptop, then press again.';
    }
  }
}

class Refused extends Error {
  constructor(status, says) {
    super(says);
    this.status = status;
  }

  static async of(answer) {
    let says = `The program refused this (${answer.status}).`;
    try {
      says = (await answer.json()).refused ?? says;
    } catch {
      // No words came.
    }
    return new Refused(answer.status, says);
  }
}

// Whether this word goes on with the work: what goes back on something, or ends, is never the large button.
export function leads(offer) {
  return Boolean(offer) && !['redo', 'more', 'undo', 'back', 'quit'].includes(offer.word);
}

// How the connection stands: a shape, and words.
const STANDS = {
  connecting: ['◌', 'connecting'],
  connected: ['●', 'live'],
  stale: ['◔', 'stale: older than 1 s'],
  lost: ['✕', 'connection lost'],
  refused: ['✕', 'refused'],
};

// As it is seen.
export function linkWords({ is }) {
  return STANDS[is].join(' ');
}

// As it is heard: a shape has no sound; what the program said itself tells more; live goes without saying.
export function linkHeard({ fresh, is, says }) {
  return fresh ? '' : says || STANDS[is][1];
}
