// One whole job, by command and browser: set-out, trim, proof on the display, signed handover. The trim
// is the demonstration's, as fast as this computer can; whole trims by the pages are in trim.test.mjs.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { pictures } from './served.mjs';
import { Proof } from './finger.mjs';

const ROOM = `[room]
wall_width = "4200 mm"
ceiling = "2800 mm"
image_middle = "2100 mm"
image_top = "2050 mm"
`;
const NAME = 'practice wall';

function command(...args) {
  const { status, stdout, stderr } = spawnSync(process.env.SKIMGAUGE, args, { encoding: 'utf8' });
  return { status, stdout, stderr };
}

const part = (judged, what) => judged.parts.find((found) => found.what === what);

test('from set-out to a signed handover', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'skimgauge-job-'));
  const job = join(folder, 'board.toml');
  writeFileSync(job, `${readFileSync(process.env.JOB, 'utf8')}\n${ROOM}`);
  process.env.JOB = job;
  const record = join(folder, 'record.sqlite');
  const setOut = command('setout', '--job', job, '--record', record);
  assert.ok([0, 1].includes(setOut.status), setOut.stderr);

  const trim = command('demo', '--quick', '--room', 'flat', '--plain', '--record', record);
  assert.ok([0, 3].includes(trim.status), trim.stderr + trim.stdout);

  const proof = await Proof.start(['--tool', 'rod'], { folder });
  let n = 0;
  await proof.play({
    seen: ({ x_mm, y_mm }) => {
      n += 1;
      return { x_mm: x_mm + ((n * 7) % 5 - 2) * 0.15, y_mm: y_mm + ((n * 3) % 7 - 3) * 0.1 };
    },
    line: (from, to) => proof.line(from, to),
  });
  await proof.page.screenshot({ path: `${pictures}/proof-over.png` });
  const { judged, code } = await proof.end();
  for (const what of ['window', 'map', 'misses', 'ghosts', 'jitter', 'lines', 'pointer', 'whole']) {
    assert.equal(part(judged, what).verdict, 'within', part(judged, what).says);
  }
  // A simulated head proves nothing of a real touch plane, however well the practice went.
  assert.equal(part(judged, 'gap').verdict, 'unsure', part(judged, 'gap').says);
  assert.equal(judged.verdict, 'unsure', JSON.stringify(judged.parts, null, 1));
  assert.equal(code, 3);

  // The same from its file.
  const again = command('prove', '--from', proof.saved, '--json');
  assert.equal(again.status, code, again.stderr);
  const { from, ...fromFile } = JSON.parse(again.stdout);
  assert.deepEqual(fromFile, judged);
  assert.equal(from.file, proof.saved);

  const key = join(folder, 'key');
  const made = spawnSync('ssh-keygen', ['-q', '-t', 'ed25519', '-N', '', '-f', key]);
  const sign = made.status === 0 ? ['--sign', key] : [];
  const closed = command('jobs', 'close', NAME, '--by', 'R. Oakes', '--record', record, ...sign);
  assert.equal(closed.status, 0, closed.stderr);
  if (sign.length) {
    const verified = command('jobs', 'verify', '--record', record, '--key', `${key}.pub`);
    assert.equal(verified.status, 0, verified.stderr + verified.stdout);
  }
  const page = join(folder, 'page.html');
  const handover = command('handover', '--job', NAME, '--record', record, '--out', page);
  assert.equal(handover.status, 0, handover.stderr);
  const html = readFileSync(page, 'utf8');
  for (const wanted of ['Touch, proved on', 'When touch goes wrong', 'times larger than the board', 'Set-out', 'upper left quarter']) {
    assert.ok(html.includes(wanted), wanted);
  }
  rmSync(folder, { recursive: true, force: true });
});
