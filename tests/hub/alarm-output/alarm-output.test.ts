// The outputs besides the pages, with a player that is only counted and a clock that is moved.

import { existsSync, readFileSync } from 'node:fs';
import { afterEach, expect, test } from 'vitest';
import { told } from '../../../hub/base/hub-error.ts';
import type { AlarmOutput } from '../../../hub/outputs/alarm-output.ts';
import { findLoudspeaker, type LoudspeakerOptions } from '../../../hub/outputs/loudspeaker.ts';
import { type RunCommand, runCommand } from '../../../hub/outputs/run-command.ts';
import { createUserCommand } from '../../../hub/outputs/user-command.ts';
import { createWebhook } from '../../../hub/outputs/webhook.ts';
import type { Said } from '../../../shared/said.ts';
import { said } from '../../../shared/said.ts';
import { createFakeClock } from '../../support/fake-clock.ts';
import { inWords } from '../../support/in-words.ts';

interface Started {
  readonly program: string;
  readonly args: readonly string[];
  stopped: boolean;
  end(reason: string | null): Promise<void>;
}

function fakeRun(): { readonly run: RunCommand; readonly started: Started[] } {
  const started: Started[] = [];
  const run: RunCommand = (program, args) => {
    let resolve: (reason: Said | null) => void = () => {};
    const ended = new Promise<Said | null>((done) => {
      resolve = done;
    });
    const one: Started = {
      program,
      args,
      stopped: false,
      async end(reason) {
        resolve(reason === null ? null : told(reason));
        await ended;
        await Promise.resolve();
      },
    };
    started.push(one);
    return {
      ended,
      stop: () => {
        one.stopped = true;
        resolve(null);
      },
    };
  };
  return { run, started };
}

let open: AlarmOutput | null = null;
afterEach(() => {
  open?.close();
  open = null;
});

function loudspeaker(changes: Partial<LoudspeakerOptions> = {}) {
  const { run, started } = fakeRun();
  const clock = createFakeClock();
  const failures: string[] = [];
  open = findLoudspeaker({
    clock,
    run,
    hasProgram: (program) => program === 'aplay',
    failed: (reason) => failures.push(inWords(reason)),
    ...changes,
  });
  return { output: open!, started, clock, failures };
}

test('uses the first player that the system has, and is null when there is none', () => {
  expect(inWords(loudspeaker().output.name)).toBe('loudspeaker (aplay)');
  expect(findLoudspeaker({ clock: createFakeClock(), hasProgram: () => false })).toBeNull();
});

test('repeats bursts with the pause of the pattern until silenced', async () => {
  const { output, started, clock } = loudspeaker();
  output.sound('high');
  output.sound('high');
  expect(started).toHaveLength(1);
  expect(readFileSync(started[0]!.args.at(-1)!).subarray(0, 4).toString()).toBe('RIFF');
  await started[0]!.end(null);
  clock.advance(2_900);
  expect(started).toHaveLength(1);
  clock.advance(200);
  expect(started).toHaveLength(2);
  output.sound(null);
  expect(started[1]!.stopped).toBe(true);
  clock.advance(60_000);
  expect(started).toHaveLength(2);
});

test('a higher priority cuts the lower one short', () => {
  const { output, started } = loudspeaker();
  output.sound('low');
  output.sound('high');
  expect(started.map(({ args, stopped }) => [args.at(-1)!.endsWith('high.wav'), stopped])).toEqual([
    [false, true],
    [true, false],
  ]);
});

test('a failing player is told once, and tried again at every burst', async () => {
  const { output, started, clock, failures } = loudspeaker();
  output.sound('high');
  await started[0]!.end('no device');
  clock.advance(3_000);
  await started[1]!.end('no device');
  expect(failures).toEqual(['no device']);
  clock.advance(3_000);
  expect(started).toHaveLength(3);
});

test('a player that hangs is stopped, told and started anew', () => {
  const { output, started, clock, failures } = loudspeaker();
  output.sound('high');
  clock.advance(10_000);
  expect(failures).toEqual(['aplay hangs']);
  expect(started[0]!.stopped).toBe(true);
  expect(started.length).toBeGreaterThan(1);
});

test('the test answers with the reason; closing removes the files and every timer', async () => {
  const { output, started, clock } = loudspeaker();
  const testing = output.test();
  const file = started[0]!.args.at(-1)!;
  await started[0]!.end('no device');
  expect(await testing).toEqual({ ok: false, reason: told('no device') });
  output.sound('medium');
  output.close();
  expect(existsSync(file)).toBe(false);
  expect(clock.timerCount).toBe(0);
});

test('a user command gets the priority as its last argument, at changes only', () => {
  const { run, started } = fakeRun();
  const output = createUserCommand({ command: ['lamp', '--room', '2'], run });
  for (const priority of ['high', 'high', null, null, 'low'] as const) output.sound(priority);
  expect(started.map(({ args }) => args)).toEqual([
    ['--room', '2', 'high'],
    ['--room', '2', 'none'],
    ['--room', '2', 'low'],
  ]);
});

test('a real command: success, failure with its words, and a program that is not there', async () => {
  expect(await runCommand(process.execPath, ['-e', '']).ended).toBeNull();
  const failing = await runCommand(process.execPath, ['-e', 'console.error("ow.");process.exit(3)']).ended;
  expect(inWords(failing)).toMatch(/code 3: ow$/);
  const missing = await runCommand('no-such-program-here', []).ended;
  expect(inWords(missing)).toMatch(/could not be started/);
});

test('a webhook posts what should sound and says why it failed', async () => {
  const bodies: string[] = [];
  const failures: string[] = [];
  let status = 204;
  const output = createWebhook({
    url: 'http://lamp.test/alarm',
    post: (_, body) => {
      bodies.push(body);
      return status === 0 ? Promise.reject(new Error('refused')) : Promise.resolve(status);
    },
    failed: (reason) => failures.push(inWords(reason)),
  });
  expect(await output.test()).toEqual({ ok: true });
  output.sound('high');
  output.sound('high');
  status = 500;
  output.sound(null);
  status = 0;
  expect(await output.test()).toEqual({
    ok: false,
    reason: said('output.noAnswer', { host: 'lamp.test', reason: 'refused' }),
  });
  expect(bodies).toEqual(['{"alarm":"test"}', '{"alarm":"high"}', '{"alarm":"none"}', '{"alarm":"test"}']);
  expect(failures).toEqual(['lamp.test answered 500']);
});
