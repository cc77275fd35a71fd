// A command that needs no head, with its page.

import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { left, until } from './served.mjs';

// What a set-out wants to know of the room.
export const ROOM = `
[room]
wall_width = "4200 mm"
ceiling = "2800 mm"
image_middle = "2100 mm"
image_top = "2050 mm"
`;

export async function started(command, more = '') {
  const folder = mkdtempSync(join(tmpdir(), 'skimgauge-walk-'));
  const job = join(folder, 'job.toml');
  const record = join(folder, 'record.sqlite');
  writeFileSync(job, readFileSync(process.env.JOB, 'utf8') + more);
  const child = spawn(process.env.SKIMGAUGE, [command, '--job', job, '--record', record, '--page'], { stdio: ['pipe', 'pipe', 'pipe'] });
  left.add(() => child.kill('SIGKILL'));
  const lines = [];
  createInterface({ input: child.stdout }).on('line', (line) => lines.push(line));
  createInterface({ input: child.stderr }).on('line', (line) => lines.push(line));
  await until('the addresses', () => lines.some((line) => line.startsWith('phone, only looks: ')));
  const after = (start) => lines.find((line) => line.startsWith(start)).slice(start.length);
  // Its exit status, once it has had enough.
  const end = async () => {
    child.stdin.write('quit\n');
    if (child.exitCode === null) await once(child, 'exit');
    return child.exitCode;
  };
  return { child, lines, folder, job, record, end, board: after('board page, on this computer: '), phone: after('phone, acts: '), looks: after('phone, only looks: ') };
}
