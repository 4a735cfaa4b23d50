// Paths whose disk does not answer, or that are no files, are told within seconds; the program ends.

import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test, vi } from 'vitest';
import { findPathFault } from '../../hub/base/answering-paths.ts';
import { buildHub, runCommand } from '../support/hub-process.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 60_000 });

let folder = '';
let pipe = '';
beforeAll(() => {
  buildHub();
  folder = mkdtempSync(join(tmpdir(), 'slackwater-paths-'));
  pipe = join(folder, 'pipe.csv');
  execFileSync('mkfifo', [pipe]);
});
afterAll(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));

test('files, folders and what is not there are well', async () => {
  const file = join(folder, 'a file.csv');
  writeFileSync(file, '');
  expect(await findPathFault([file, folder, join(folder, 'absent')])).toBeUndefined();
  expect(await findPathFault([])).toBeUndefined();
});

test('a pipe is no file', async () => {
  expect(await findPathFault([folder, pipe])).toEqual({ path: pipe, fault: 'noFile' });
});

test('a path that holds up whoever asks is named, and the asker is left behind', async () => {
  // Opening a pipe that nobody writes to waits for ever, as a call to a lost network disk does.
  const holdsUp = `process.stdout.write('?' + JSON.stringify(process.argv[1]) + '\\n', () => require('node:fs').openSync(process.argv[1]));`;
  expect(await findPathFault([pipe], 1_500, holdsUp)).toEqual({ path: pipe, fault: 'silent' });
});

test.each([[['analyze']], [['replay']], [['profile', 'check']], [['plan', 'preview']]])(
  '%j of a pipe ends with a sentence instead of waiting',
  async (words) => {
    const done = await runCommand([...words, pipe], { SLACKWATER_DATA: join(folder, 'data') });
    expect(done).toMatchObject({
      status: 2,
      stderr: `slackwater: ${pipe} is neither a file nor a folder.\n`,
    });
  },
);

test('"--open false", "--open=false" and "--no-open" say the same', async () => {
  for (const words of [['--open', 'false'], ['--open=0'], ['--no-open']]) {
    const done = await runCommand(['doctor', ...words, '--port', 'x', '--data', folder]);
    expect(done.stderr).toContain('--port needs a number');
  }
  const done = await runCommand(['demo', '--open', 'maybe', '--data', folder]);
  expect(done).toMatchObject({ status: 2 });
  expect(done.stderr).toContain('maybe');
});
