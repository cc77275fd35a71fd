// The page under attack while a head measures: what is asked is refused, and the measuring goes on as
// if nobody were there. Every reading has a number of its own, so that those that were lost count.

import assert from 'node:assert/strict';
import { connect } from 'node:net';
import { test } from 'node:test';
import { until } from './served.mjs';
import { Work } from './work.mjs';

// As many as a flood of 10^6 a minute brings in 12 seconds; how long they take here is not asked.
const WORDS = 200_000;
const SLOW = 64;
const pause = (ms) => new Promise((done) => setTimeout(done, ms));

// A connection from an address of its own in this computer: each address has its own allowance.
function from(localAddress, port) {
  const socket = connect({ host: '127.0.0.1', port, localAddress });
  socket.on('error', () => {});
  return socket;
}

function request({ host, key }, line, { body = '', origin = `http://${host}`, more = '', named = host } = {}) {
  const bearer = key ? `Authorization: Bearer ${key}\r\n` : '';
  const from_ = origin ? `Origin: ${origin}\r\n` : '';
  return `${line} HTTP/1.1\r\nHost: ${named}\r\n${from_}${bearer}Content-Type: application/json\r\nContent-Length: ${body.length}\r\n${more}\r\n${body}`;
}

// Sends one request and reads the status of the answer; 0 where the connection was closed without.
function status(localAddress, port, text) {
  return new Promise((done) => {
    const socket = from(localAddress, port);
    let answer = '';
    socket.on('data', (piece) => { answer += piece; if (answer.includes('\r\n')) socket.destroy(); });
    socket.on('close', () => done(Number(/^HTTP\/1\.1 (\d+)/.exec(answer)?.[1] ?? 0)));
    socket.write(text);
  });
}

// Words as fast as they are taken, over one connection at a time.
async function flood({ host, port, key }) {
  const one = request({ host, key }, 'POST /word', { body: '{"word":"take","seen":999999}' });
  const many = one.repeat(100);
  const answers = new Map();
  let sent = 0;
  while (sent < WORDS) {
    const socket = from('127.0.0.3', port);
    let tail = '';
    socket.on('data', (piece) => {
      const text = tail + piece;
      for (const [, code] of text.matchAll(/HTTP\/1\.1 (\d+) /g)) answers.set(code, (answers.get(code) ?? 0) + 1);
      // An answer that was cut in two counts once, with its second half.
      const last = text.lastIndexOf('HTTP/1.1 ');
      tail = last >= 0 && text.length - last < 13 ? text.slice(last) : text.slice(-8).replace(/^.*HTTP\/1\.1 \d+ /s, '');
    });
    const closed = new Promise((done) => socket.on('close', done));
    while (sent < WORDS && !socket.destroyed) {
      sent += 100;
      if (!socket.write(many)) await Promise.race([new Promise((done) => socket.once('drain', done)), closed]);
    }
    socket.end();
    await closed;
  }
  return { sent, answers };
}

// Says nothing, half a request, or a byte at a time.
async function slow(port, kind, over) {
  while (!over.is) {
    const socket = from('127.0.0.2', port);
    const closed = new Promise((done) => socket.on('close', done));
    if (kind === 1) socket.write('GET /phone HTTP/1.1\r\nHost: 127');
    if (kind === 2) {
      for (const letter of 'GET /phone HTTP/1.1\r\nX: '.padEnd(400, 'x')) {
        if (socket.destroyed || over.is) break;
        socket.write(letter);
        await pause(100);
      }
    }
    if (over.is) socket.destroy();
    over.sockets.add(socket);
    await closed;
    over.sockets.delete(socket);
    over.closed += 1;
    await pause(20);
  }
}

async function refusals({ host, port, key, looks }, round) {
  const word = '{"word":"take","seen":1}';
  const tried = [
    ['no key', 401, request({ host }, 'POST /word', { body: word })],
    ['a wrong key', 401, request({ host, key: 'A'.repeat(22) }, 'POST /word', { body: word })],
    ['the key that looks', 403, request({ host, key: looks }, 'POST /word', { body: word })],
    ['a foreign host', 421, request({ host, key }, 'POST /word', { body: word, named: 'rebound.example' })],
    ['a foreign origin', 403, request({ host, key }, 'POST /word', { body: word, origin: 'http://evil.example' })],
    ['no origin', 403, request({ host, key }, 'POST /word', { body: word, origin: '' })],
    ['an oversized word', 413, request({ host, key }, 'POST /word', { body: 'x'.repeat(100_000) })],
    ['an oversized picture', 413, request({ host, key }, 'POST /photo', { body: '' }).replace('Content-Length: 0', 'Content-Length: 99999999')],
    ['malformed JSON', 400, request({ host, key }, 'POST /word', { body: '{"word":"take","seen":' })],
    ['nested JSON', 400, request({ host, key }, 'POST /word', { body: '['.repeat(4000) })],
    ['another form', 400, request({ host, key }, 'POST /word', { body: '{"word":"take","seen":1,"as":"root"}' })],
    ['nonsense', 400, '\u0016\u0003\u0001\u0002\r\n\r\n'],
  ];
  // Each from an address of its own, whose allowance is untouched.
  for (const [at, [what, wanted, text]] of tried.entries()) {
    assert.equal(await status(`127.0.${round}.${at + 10}`, port, text), wanted, what);
  }
}

test('the measuring goes on while the page is attacked, and no reading is lost', async (its) => {
  const work = await Work.start(['--json'], 'watch');
  const live = () => work.trim.lines.filter((line) => line.includes('"kind":"live"')).map((line) => JSON.parse(line));
  await until('a good gap', () => live().at(-1)?.gap_mm?.is === 'good');
  const { host, port } = new URL(work.links.phone);
  const key = work.links.phone.split('#k=')[1];
  const looks = work.links.looks.split('#k=')[1];
  const before = live().at(-1);
  const seen = work.states;
  const over = { is: false, closed: 0, sockets: new Set() };
  its.after(() => { over.is = true; });
  const crawl = Array.from({ length: SLOW }, (_, at) => slow(port, at % 3, over));
  const flooded = flood({ host, port, key });
  for (let round = 1; round <= 3; round += 1) await refusals({ host, port, key, looks }, round);
  const { sent, answers } = await flooded;
  await until('the slow ones are closed', () => over.closed >= SLOW);
  // Measured on: a hundred readings after the last of it.
  const { received } = live().at(-1);
  await until('readings', () => live().at(-1).received > received + 100);
  over.is = true;
  for (const socket of over.sockets) socket.destroy();
  await Promise.all(crawl);
  const end = live().at(-1);
  console.log(`# ${sent} words sent, answers ${JSON.stringify([...answers])}; ${over.closed} slow connections closed; ${end.received - before.received} readings in ${(end.t_s - before.t_s).toFixed(1)} s, lost ${end.lost - before.lost}; ${work.states - seen} states shown meanwhile`);
  assert.equal(sent, WORDS);
  assert.equal(answers.get('202'), undefined, 'nothing was done');
  // Of those that were answered at all: a connection that is closed takes its words with it.
  assert.ok((answers.get('429') ?? 0) > WORDS / 10, `${[...answers]}`);
  assert.equal(end.lost, before.lost, 'no reading was lost');
  assert.equal(end.link, 'up');
  // Lines come from the measuring loop: it never stood still for a second of its own clock.
  const lines = live().filter(({ t_s }) => t_s >= before.t_s);
  const apart = Math.max(...lines.slice(1).map(({ t_s }, at) => t_s - lines[at].t_s));
  console.log(`# two lines of the measuring loop were at most ${apart.toFixed(2)} s apart`);
  assert.ok(work.states > seen + 10, 'whoever looks on is shown states all the while');
  assert.ok(lines.every(({ storing }) => storing === null), 'nothing was taken');
  await work.stop();
});
