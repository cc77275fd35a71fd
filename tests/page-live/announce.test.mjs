// What a page tells who hears it instead of seeing it: on a clock passed in, without a browser.

import assert from 'node:assert/strict';
import { join } from 'node:path';
import { test } from 'node:test';
import { pathToFileURL } from 'node:url';
import { take, turn } from './states.mjs';

const { Announcer, told } = await import(pathToFileURL(join(process.env.SOURCES, 'announce.js')));

// An announcer, what it spoke and when, and its clock.
function heard() {
  const of = { now: 0, spoke: [], waits: [] };
  of.announcer = new Announcer((says) => of.spoke.push({ says, at: of.now }), () => of.now, (what, ms) => of.waits.push({ what, at: of.now + ms }));
  of.until = (now) => {
    of.now = now;
    const due = of.waits.filter(({ at }) => at <= now);
    of.waits = of.waits.filter(({ at }) => at > now);
    due.forEach(({ what }) => what());
  };
  return of;
}

const FRESH = { fresh: true, is: 'connected', says: '' };

test('a minute of digits that change thirty times a second is told once', () => {
  const of = heard();
  for (let k = 0; k < 1800; k += 1) {
    of.until(k * 33);
    const state = take({ number: k });
    state.gap = { ...state.gap, digits: (2.3 + k / 5000).toFixed(2) };
    of.announcer.hear(told(FRESH, state));
  }
  assert.equal(of.spoke.length, 1, JSON.stringify(of.spoke));
  assert.match(of.spoke[0].says, /gap within/);
  assert.doesNotMatch(of.spoke[0].says, /2\.3/);
});

test('what changes again and again is told at most once in two seconds, the newest of it', () => {
  const of = heard();
  for (let k = 0; k < 600; k += 1) {
    of.until(k * 33);
    of.announcer.hear({ asks: `take ${k}`, link: '' });
  }
  of.until(25_000);
  const at = of.spoke.map((one) => one.at);
  assert.ok(at.length > 8 && at.length <= 12, String(at));
  at.slice(1).forEach((later, index) => assert.ok(later - at[index] >= 2000, String(at)));
  assert.equal(of.spoke.at(-1).says, 'take 599.');
});

test('only what changed is told, and what went away is not', () => {
  const of = heard();
  const state = turn();
  of.announcer.hear(told(FRESH, state));
  assert.ok(of.spoke[0].says.includes(state.instruction), of.spoke[0].says);
  of.until(3000);
  of.announcer.hear(told(FRESH, { ...state, message: { says: 'a note is kept', bad: false } }));
  assert.equal(of.spoke[1].says, 'a note is kept.');
  of.until(6000);
  of.announcer.hear(told(FRESH, state));
  assert.equal(of.spoke.length, 2);
  of.announcer.hear(told({ fresh: false, is: 'lost', says: '' }, state));
  assert.equal(of.spoke[2].says, 'connection lost.');
});

test('what the instruction says already is not told a second time', () => {
  const of = heard();
  const says = 'Clip it again.';
  of.announcer.hear(told(FRESH, { ...turn(), instruction: `head not seated: ${says}`, trouble: { says, bad: true } }));
  assert.equal(of.spoke[0].says.split(says).length, 2, of.spoke[0].says);
});

test('what counts down is told once', () => {
  const of = heard();
  for (let k = 0; k < 300; k += 1) {
    of.until(k * 33);
    of.announcer.hear(told(FRESH, take({ state: 'hold', instruction: `settling, ${(10 - k / 30).toFixed(1)} s to go` })));
  }
  assert.deepEqual(of.spoke.map(({ says }) => says), ['settling, 10.0 s to go. gap within.']);
  of.until(12_000);
  of.announcer.hear(told(FRESH, take({ state: 'hold', instruction: 'knocked: let go and wait' })));
  assert.equal(of.spoke[1].says, 'knocked: let go and wait.');
});

test('a gap that comes and goes at its limit is told once it stays', () => {
  const of = heard();
  const at = (is, says) => take({ gap: { ...take().gap, verdict: { is, says, shape: '' } } });
  for (let k = 0; k < 900; k += 1) {
    of.until(k * 33);
    of.announcer.hear(told(FRESH, Math.floor(k / 20) % 2 ? at('unsure', 'too close to call') : at('within', 'within')));
  }
  assert.equal(of.spoke.length, 1, JSON.stringify(of.spoke));
  of.announcer.hear(told(FRESH, at('outside', 'outside')));
  of.until(31_000);
  assert.equal(of.spoke.length, 1, 'not yet');
  of.until(32_000);
  assert.equal(of.spoke[1].says, 'gap outside.');
});

test('a head on its way says nothing of what it sees there, and saving is no news', () => {
  const of = heard();
  of.announcer.hear(told(FRESH, take()));
  const absent = { ...take().gap, is: 'absent', why: 'laser spot lost', verdict: null };
  of.until(3000);
  of.announcer.hear(told(FRESH, take({ state: 'saving', instruction: 'wait until it is saved' })));
  of.until(6000);
  of.announcer.hear(told(FRESH, take({ state: 'move', instruction: 'put the head at bottom', gap: absent })));
  of.until(9000);
  assert.deepEqual(of.spoke.slice(1).map(({ says }) => says), ['put the head at bottom.']);
});

test('on the emitter there is no gap to tell', () => {
  const tilts = [{ name: 'level', digits: '0.09', unit: '°', is: 'good', why: null, verdict: null }];
  const state = take({ tilts, gap: { ...take().gap, is: 'absent', why: 'laser spot lost', verdict: null } });
  assert.equal(told(FRESH, state).gap, '');
});
