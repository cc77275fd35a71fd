// By ear: pitch tells how far, two sounds of their own tell within and stop. Silence is never good:
// where nothing can be believed there is a low knock. Off until asked for.

const FAR_MM = 2;

// From 220 Hz far off to 880 Hz close by.
export function pitch(offMm) {
  const near = 1 - Math.min(Math.abs(offMm), FAR_MM) / FAR_MM;
  return 220 * 2 ** (2 * near);
}

// What is played next: notes of [after s, for s, Hz], how long it all lasts, and the same in words.
export function phrase(tone, fresh) {
  if (!fresh) return { notes: [[0, 0.12, 330], [0.16, 0.16, 165]], lasts: 1.6, says: '✕ not live: two falling notes' };
  if (!tone) return { notes: [[0, 0.05, 110]], lasts: 1.4, says: '– no good reading: a low knock' };
  if (tone.is === 'stop') {
    return { notes: [[0, 0.08, 1320], [0.12, 0.08, 1320], [0.24, 0.22, 1320]], lasts: 0.9, says: '■ stop: three high notes' };
  }
  if (tone.is === 'within') return { notes: [[0, 0.12, 660], [0.14, 0.2, 990]], lasts: 1.4, says: '● within: two rising notes' };
  const hz = pitch(tone.off_mm);
  const lasts = 0.25 + 0.35 * Math.min(Math.abs(tone.off_mm), FAR_MM) / FAR_MM;
  const far = Math.abs(tone.off_mm).toFixed(2);
  return { notes: [[0, 0.1, hz]], lasts, says: `${tone.off_mm > 0 ? '▼' : '▲'} ${far} mm off: ${hz.toFixed(0)} Hz` };
}

// Puts a phrase onto a context, from this time on.
export function play(context, out, from, { notes }) {
  for (const [after, long, hz] of notes) {
    const oscillator = new OscillatorNode(context, { frequency: hz });
    const gain = new GainNode(context, { gain: 0 });
    const start = from + after;
    gain.gain.setValueAtTime(0, start);
    gain.gain.linearRampToValueAtTime(1, start + 0.008);
    gain.gain.setValueAtTime(1, start + long - 0.012);
    gain.gain.linearRampToValueAtTime(0, start + long);
    oscillator.connect(gain).connect(out);
    oscillator.start(start);
    oscillator.stop(start + long);
  }
}

export class Ear {
  // shows(says): the picture of what is heard.
  constructor(link, shows) {
    this.link = link;
    this.shows = shows;
    this.tones = false;
    this.speech = false;
    this.volume = 0.6;
    this.voice = '';
    this.spoken = { instruction: '', state: '', gapAt: -Infinity };
  }

  // Only a tap may start sound: called from one.
  setTones(on) {
    this.tones = on;
    if (on && !this.context) {
      this.context = new AudioContext();
      this.out = new GainNode(this.context, { gain: this.volume });
      this.out.connect(this.context.destination);
    }
    if (on) {
      this.context.resume();
      if (!this.running) this.next();
    } else {
      this.shows('No sound');
    }
  }

  setVolume(share) {
    this.volume = share;
    if (this.out) this.out.gain.value = share;
  }

  next() {
    this.running = this.tones;
    if (!this.tones) return;
    const state = this.link.state;
    const next = phrase(state?.tone ?? null, this.link.fresh);
    play(this.context, this.out, this.context.currentTime + 0.02, next);
    this.shows(next.says);
    setTimeout(() => this.next(), next.lasts * 1000);
  }

  setSpeech(on) {
    this.speech = on;
    this.spoken = { instruction: '', state: '', gapAt: -Infinity };
    if (on) this.say('Speech is on.');
    else window.speechSynthesis?.cancel();
  }

  say(words) {
    if (!window.speechSynthesis) {
      this.shows('This browser cannot speak');
      return;
    }
    const utterance = new SpeechSynthesisUtterance(words);
    utterance.lang = 'en';
    utterance.volume = this.volume;
    const voice = speechSynthesis.getVoices().find(({ name }) => name === this.voice);
    if (voice) utterance.voice = voice;
    utterance.onerror = ({ error }) => {
      if (error !== 'canceled' && error !== 'interrupted') this.shows(`Not spoken: ${error}`);
    };
    speechSynthesis.speak(utterance);
    this.shows(`“${words}”`);
  }

  // Something new is shown: what of it is said.
  changed() {
    if (!this.speech) return;
    const { state, fresh } = this.link;
    if (!fresh || !state) {
      if (this.spoken.state !== 'not live') this.say('Not live.');
      this.spoken.state = 'not live';
      return;
    }
    const asks = state.question ? state.question.asks : state.instruction;
    if (state.state !== this.spoken.state) {
      if (state.state === 'hold') this.say('Hold still.');
      if (state.state === 'taken') this.say('Taken.');
      this.spoken.state = state.state;
    }
    if (asks !== this.spoken.instruction) {
      this.say(asks);
      this.spoken.instruction = asks;
    }
    const now = performance.now();
    if (state.gap.is === 'good' && now - this.spoken.gapAt > 4000 && !speechSynthesis?.speaking) {
      const verdict = state.gap.verdict ? `, ${state.gap.verdict.says}` : '';
      this.say(`${state.gap.digits}${verdict}`);
      this.spoken.gapAt = now;
    }
  }
}
