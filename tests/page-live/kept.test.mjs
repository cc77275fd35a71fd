// From a phone in the network into the record: notes, photographs, what was taped; and who is there.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { connect } from 'node:net';
import { networkInterfaces } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { fullScreen, means, phone, pictures, reads, until } from './served.mjs';
import { Work } from './work.mjs';

// This computer's address in its network, if it is in one.
const NETWORK = Object.values(networkInterfaces()).flat().find(({ family, internal }) => family === 'IPv4' && !internal)?.address;

// As large as the program takes, with a place in its data: APP1 with Exif (CIPA DC-008), then the image.
function photograph() {
  const exif = Buffer.from('Exif\0\0PLACE 51.477 N 0.001 W', 'latin1');
  const head = Buffer.from([0xff, 0xd8, 0xff, 0xe1, 0, exif.length + 2]);
  const image = Buffer.concat([Buffer.from([0xff, 0xda, 0, 4, 0, 0]), Buffer.from('IMAGE BEGINS'), Buffer.alloc(15.9 * 2 ** 20, 7), Buffer.from('IMAGE ENDS'), Buffer.from([0xff, 0xd9])]);
  return Buffer.concat([head, exif, image]);
}

// Whether this program listens there.
const listens = (host, port) => new Promise((done) => {
  const socket = connect({ host, port });
  socket.on('connect', () => { socket.destroy(); done(true); });
  socket.on('error', () => done(false));
});

test('a phone in the network sends notes, a photograph and the frame into the record, under its name', { skip: !NETWORK && 'this computer is in no network' }, async () => {
  const work = await Work.start(['--plain', '--lan', '--at', NETWORK], 'watch');
  const who = `phone at ${NETWORK}`;
  const told = (what) => until(what, () => work.trim.lines.some((line) => line.includes(what)));
  const { host, port } = new URL(work.links.phone);
  await told(`served to the local network at ${host}: others in it can read what is shown`);
  await told('make a hotspot on a phone');
  assert.equal(new URL(work.links.board).hostname, '127.0.0.1');
  assert.deepEqual(await Promise.all(['127.0.0.1', NETWORK, '127.0.0.2'].map((at) => listens(at, port))), [true, true, false], 'these two and no other');
  const { browser, page } = await phone(work.links.phone);
  await page.waitForSelector('#gap.good');
  await told(`${who} acts`);
  // There the browser gives no wake lock: nothing needs it.
  assert.deepEqual(await page.evaluate(() => [isSecureContext, 'wakeLock' in navigator]), [false, false]);
  await page.tap('#more > summary');
  await page.fill('#note', 'cable left of the lamp');
  await page.tap('#note-form button');
  await told(`${who}: wrote a note`);
  await page.setInputFiles('#photo', { name: 'a.jpg', mimeType: 'image/jpeg', buffer: photograph() });
  await told(`${who}: sent a photograph`);
  await page.check('#whole-frame');
  await page.fill('#across', '1619.5');
  await page.tap('#frame-form button');
  await told(`${who}: taped the frame`);
  await page.tap('#more > summary');
  // And a take, by the same phone.
  await until('ready', () => work.state?.state === 'ready');
  await means(page, work.state.number);
  await work.taken(() => page.tap('#big'), page);
  const looks = await fullScreen(work.links.board);
  await looks.page.waitForSelector('#gap');
  await looks.page.keyboard.press('a');
  await reads(looks.page, '#code', 'make a hotspot on a phone');
  const [code, foot] = await Promise.all(['#code', '#foot rect'].map((part) => looks.page.locator(part).boundingBox()));
  assert.ok(code.y >= 0 && code.y + code.height <= foot.y, JSON.stringify([code, foot]));
  await looks.page.screenshot({ path: `${pictures}/board-code.png` });
  await looks.browser.close();
  await browser.close();
  await told(`${who} is gone`);
  const takes = await work.takes();
  assert.deepEqual(takes.map(({ by }) => by), [who]);
  const record = join(work.folder, 'record.sqlite');
  const { events } = JSON.parse(execFileSync(process.env.SKIMGAUGE, ['jobs', '--record', record, 'show', 'practice wall', '--as', 'json'], { maxBuffer: 2 ** 28 }));
  const notes = events.filter(({ kind }) => kind === 'note').map(({ payload }) => payload.text);
  assert.equal(notes[0], `cable left of the lamp (${who})`);
  assert.match(notes[1], /^Image on the board: whole, .*line across taped 1619.5 mm, drawn 1619.7 mm/);
  const photos = events.filter(({ kind }) => kind === 'photo attached').map(({ payload }) => payload);
  assert.deepEqual(photos.map(({ caption }) => caption), [who], JSON.stringify(photos));
  // The image is there, whole; the place is nowhere in the record.
  const bytes = Buffer.concat([record, `${record}-wal`].filter(existsSync).map((file) => readFileSync(file)));
  assert.ok(bytes.includes('IMAGE BEGINS') && bytes.includes('IMAGE ENDS'));
  assert.ok(!bytes.includes('PLACE 51.477'));
  await work.stop();
});
