// A log that cannot be written: nothing waits for it, nothing fills up, and what is said again and again is counted.

import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, mkdtempSync, openSync, rmSync, watch } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { LineWriter, rateLimited } from '../../hub/base/bounded-log.ts';
import { createFakeClock } from '../support/fake-clock.ts';
import { buildHub } from '../support/hub-process.ts';

test('lines wait for a descriptor that takes none, up to a bound; an error drops them and the next tries again', () => {
  const calls: { text: string; done: (error: Error | null) => void }[] = [];
  const writer = new LineWriter(
    2,
    ((_fd: number, text: string, done: (error: Error | null) => void) =>
      void calls.push({ text, done })) as never,
  );
  writer.line('one\n');
  for (let i = 0; i < 600; i++) writer.line(`${i}\n`);
  expect(calls).toHaveLength(1);
  expect(writer.droppedCount).toBe(100);
  calls[0]!.done(new Error('ENOSPC'));
  expect(writer.droppedCount).toBe(101);
  expect(calls[1]!.text.split('\n')).toHaveLength(501);
  calls[1]!.done(null);
  writer.line('last\n');
  expect(calls.map(({ text }) => text).at(-1)).toBe('last\n');
});

test('the same fault is written three times in ten seconds, then its count', async () => {
  const clock = createFakeClock();
  const lines: string[] = [];
  const log = rateLimited(
    { info: () => undefined, warn: () => undefined, error: (message) => void lines.push(message) },
    clock,
  );
  for (let i = 0; i < 110; i++) log.error('not written', new Error('EIO'));
  log.error('not written', new Error('ENOSPC'));
  expect(lines).toEqual(Array.from({ length: 4 }, () => 'not written'));
  await clock.advance(10_000);
  log.error('not written', new Error('EIO'));
  expect(lines.at(-1)).toContain('(+107)');
});

test.runIf(existsSync('/dev/full'))(
  'a hub whose log and output go to a full disk runs and ends',
  async () => {
    const folder = mkdtempSync(join(tmpdir(), 'slackwater-full-'));
    const full = openSync('/dev/full', 'w');
    const child = spawn(
      process.execPath,
      [
        '--input-type=module',
        '-e',
        `import { main } from ${JSON.stringify(buildHub())}; await main(process.argv.slice(1));`,
        '--',
        'demo',
        '--port',
        '0',
        '--data',
        join(folder, 'data'),
        '--log',
        'debug',
        '--no-open',
        '--no-alarm-sound',
        '--no-watchdog',
      ],
      { stdio: ['ignore', full, full] },
    );
    const ended = once(child, 'exit');
    // Its database is there when it runs.
    const made = new Promise<void>((resolve) => {
      const watcher = watch(folder, () => {
        if (!existsSync(join(folder, 'data-demo'))) return;
        watcher.close();
        resolve();
      });
    });
    await Promise.race([made, ended]);
    expect(child.exitCode).toBeNull();
    child.kill('SIGTERM');
    await ended;
    rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
  },
);
