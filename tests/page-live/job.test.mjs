// One whole job, by command and browser: set-out, trim, proof, signed handover.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { phone, pictures } from './served.mjs';
import { Proof } from './finger.mjs';
import { Work } from './work.mjs';

const ROOM = `[room]
wall_width = "4200 mm"
ceiling = "2800 mm"
image_middle = "2100 mm"
image_top = "2050 mm"
`;

function command(...args) {
  const { status, stdout, stderr } = spawnSync(process.env.SKIMGAUGE, args, { encoding: 'utf8' });
  return { status, stdout, stderr };
}

test('from set-out to a signed handover', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'skimgauge-job-'));
  const job = join(folder, 'board.toml');
  writeFileSync(job, `${readFileSync(process.env.JOB, 'utf8')}\n${ROOM}`);
  process.env.JOB = job;
  const work = await Work.start();
  const record = join(work.folder, 'record.sqlite');
  const setOut = command('setout', '--job', job, '--record', record);
  assert.ok([0, 1].includes(setOut.status), setOut.stderr);

  const hand = await phone(work.links.phone);
  await hand.page.waitForSelector('#gap.good');
  const end = await work.play({
    say: () => hand.page.tap('#big', { timeout: 3000 }).catch(() => {}),
    yes: () => hand.page.tap('#yes', { timeout: 3000 }).catch(() => {}),
  });
  assert.equal(end.whole.verdict.is, 'within', end.whole.headline);
  await hand.browser.close();
  work.trim.child.stdin.write('quit\n');
  await new Promise((done) => work.trim.child.once('exit', done));

  const proof = await Proof.start(['--tool', 'rod'], { folder: work.folder });
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
  assert.equal(judged.verdict, 'within', JSON.stringify(judged.parts, null, 1));
  assert.equal(code, 0);

  // The same from its file.
  const again = command('prove', '--from', proof.saved, '--json');
  assert.equal(again.status, 0, again.stderr);
  assert.deepEqual(JSON.parse(again.stdout), judged);

  const key = join(work.folder, 'key');
  const made = spawnSync('ssh-keygen', ['-q', '-t', 'ed25519', '-N', '', '-f', key]);
  if (made.status === 0) {
    const closed = command('jobs', 'close', 'practice wall', '--by', 'R. Oakes', '--record', record, '--sign', key);
    assert.equal(closed.status, 0, closed.stderr);
    const verified = command('jobs', 'verify', '--record', record, '--key', `${key}.pub`);
    assert.equal(verified.status, 0, verified.stderr + verified.stdout);
  } else {
    assert.equal(command('jobs', 'close', 'practice wall', '--by', 'R. Oakes', '--record', record).status, 0);
  }
  const page = join(work.folder, 'page.html');
  const handover = command('handover', '--job', 'practice wall', '--record', record, '--out', page);
  assert.equal(handover.status, 0, handover.stderr);
  const html = readFileSync(page, 'utf8');
  for (const wanted of ['Touch', 'times larger than the board', 'Set-out', 'upper left quarter']) {
    assert.ok(html.includes(wanted), wanted);
  }
  await work.stop();
  rmSync(folder, { recursive: true, force: true });
});
