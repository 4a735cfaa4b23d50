// The outputs besides the pages, with a player that is only counted and a clock that is moved.

import { createHmac } from 'node:crypto';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { told } from '../../../hub/base/hub-error.ts';
import type { AlarmOutput } from '../../../hub/outputs/alarm-output.ts';
import { findLoudspeaker, type LoudspeakerOptions } from '../../../hub/outputs/loudspeaker.ts';
import { type RunCommand, runCommand } from '../../../hub/outputs/run-command.ts';
import { createUserCommand } from '../../../hub/outputs/user-command.ts';
import { createWebhook, type WebhookOptions } from '../../../hub/outputs/webhook.ts';
import { type Said, said } from '../../../shared/said.ts';
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

/** Lets every promise that can go on go on. */
const settled = () => new Promise((resolve) => setImmediate(resolve));

let open: AlarmOutput | null = null;
afterEach(() => {
  open?.close();
  open = null;
});

function loudspeaker(changes: Partial<LoudspeakerOptions> = {}) {
  const { run, started } = fakeRun();
  const clock = createFakeClock();
  const heard: (string | null)[] = [];
  const output = findLoudspeaker({ clock, run, hasProgram: (program) => program === 'aplay', ...changes })!(
    (fault) => heard.push(fault === null ? null : inWords(fault)),
  );
  open = output;
  return { output, started, clock, heard };
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
  clock.advance(2_000);
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

test('a failing player is told, and tried again soon', async () => {
  const { output, started, clock, heard } = loudspeaker();
  output.sound('high');
  await started[0]!.end('no device');
  clock.advance(1_100);
  await started[1]!.end('no device');
  clock.advance(1_100);
  expect(started).toHaveLength(3);
  clock.advance(2_000);
  await started[2]!.end(null);
  expect(heard).toEqual(['no device', 'no device', null]);
});

test('a player that is over at once has played nothing', async () => {
  const { output, started, clock, heard } = loudspeaker();
  output.sound('high');
  clock.advance(100);
  await started[0]!.end(null);
  expect(heard).toEqual(['aplay ended before the sound was over']);
  clock.advance(1_100);
  expect(started).toHaveLength(2);
});

test('a player that hangs is stopped, told and started anew', async () => {
  const { output, started, clock, heard } = loudspeaker();
  output.sound('high');
  clock.advance(10_000);
  await started[0]!.end(null);
  expect(heard).toEqual(['aplay hangs']);
  expect(started[0]!.stopped).toBe(true);
  clock.advance(1_100);
  expect(started).toHaveLength(2);
});

test('a probe plays silence by the same player, and none while it sounds', async () => {
  const { output, started, clock } = loudspeaker();
  const probing = output.probe();
  const wav = readFileSync(started[0]!.args.at(-1)!);
  expect(wav.length).toBeGreaterThan(1_000);
  expect(wav.subarray(44).every((byte) => byte === 0)).toBe(true);
  clock.advance(1_000);
  await started[0]!.end(null);
  expect(await probing).toEqual({ ok: true });
  output.sound('high');
  expect(await output.probe()).toEqual({ ok: true });
  expect(started).toHaveLength(2);
});

test('a probe or test that hangs ends, and says so', async () => {
  const { output, clock } = loudspeaker();
  const probing = output.probe();
  clock.advance(10_000);
  expect(await probing).toEqual({ ok: false, reason: said('output.hangs', { program: 'aplay' }) });
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

describe('a user command', () => {
  function lamp() {
    const { run, started } = fakeRun();
    const clock = createFakeClock();
    const heard: (string | null)[] = [];
    const output = createUserCommand({
      command: ['lamp', '--room', '2'],
      clock,
      run,
      health: (fault) => heard.push(fault === null ? null : inWords(fault)),
    });
    const words = () => started.map(({ args }) => args.at(-1));
    return { output, started, clock, heard, words };
  }

  test('gets the priority as its last argument, at changes only, one run at a time', async () => {
    const { output, started, words } = lamp();
    output.sound('high');
    output.sound('high');
    expect(started[0]!.args).toEqual(['--room', '2', 'high']);
    output.sound(null);
    output.sound('low');
    expect(words()).toEqual(['high']);
    await started[0]!.end(null);
    await settled();
    // What was wanted meanwhile and is no more is not run.
    expect(words()).toEqual(['high', 'low']);
    await started[1]!.end(null);
    await settled();
    output.sound(null);
    expect(words()).toEqual(['high', 'low', 'none']);
  });

  test('what is more urgent does not wait for what runs', () => {
    const { output, started, words } = lamp();
    output.sound('low');
    output.sound('high');
    expect(words()).toEqual(['low', 'high']);
    expect(started[0]!.stopped).toBe(true);
  });

  test('an alarm that comes back while its end is being told is told again', async () => {
    const { output, started, words } = lamp();
    output.sound('high');
    await started[0]!.end(null);
    await settled();
    // The lamp may be out by now, though the run that puts it out has not ended.
    output.sound(null);
    output.sound('high');
    expect(words()).toEqual(['high', 'none', 'high']);
    await started[2]!.end(null);
    await settled();
    expect(words()).toEqual(['high', 'none', 'high']);
  });

  test('one that fails is told and run again, less and less often, until it works', async () => {
    const { output, started, clock, heard, words } = lamp();
    output.sound('high');
    for (const waitMs of [1_000, 2_000, 4_000]) {
      await started.at(-1)!.end('lamp ended with code 3');
      await settled();
      const before = started.length;
      clock.advance(waitMs - 50);
      expect(started).toHaveLength(before);
      clock.advance(100);
      expect(started).toHaveLength(before + 1);
    }
    await started.at(-1)!.end(null);
    await settled();
    clock.advance(120_000);
    expect(words()).toEqual(['high', 'high', 'high', 'high']);
    expect(heard).toEqual([...Array.from({ length: 3 }, () => 'lamp ended with code 3'), null]);
  });

  test('one that hangs is stopped, told and run again', async () => {
    const { output, started, clock, heard, words } = lamp();
    output.sound('high');
    clock.advance(10_100);
    await settled();
    expect(started[0]!.stopped).toBe(true);
    expect(heard).toEqual(['lamp did not end within 10 s']);
    clock.advance(1_100);
    expect(words()).toEqual(['high', 'high']);
  });

  test('a probe says "check"; closing says "none" and leaves nothing waiting', async () => {
    const { output, started, clock, words } = lamp();
    const probing = output.probe();
    await started[0]!.end('no bus');
    expect(await probing).toEqual({ ok: false, reason: told('no bus') });
    output.sound('medium');
    await started[1]!.end(null);
    await settled();
    output.close();
    expect(words()).toEqual(['check', 'medium', 'none']);
    await started[2]!.end(null);
    await settled();
    expect(clock.timerCount).toBe(0);
  });
});

test('a real command: success, failure with its words, and a program that is not there', async () => {
  expect(await runCommand(process.execPath, ['-e', '']).ended).toBeNull();
  const failing = await runCommand(process.execPath, ['-e', 'console.error("ow.");process.exit(3)']).ended;
  expect(inWords(failing)).toMatch(/code 3: ow$/);
  const missing = await runCommand('no-such-program-here', []).ended;
  expect(inWords(missing)).toMatch(/could not be started/);
});

describe('real processes as a user command', () => {
  /** Writes each of its last words down, and then does as its name says. */
  const script = (body: string): [string, ...string[]] => {
    const file = join(folder, 'lamp.mjs');
    writeFileSync(
      file,
      `import { appendFileSync, existsSync } from 'node:fs';
       appendFileSync(${JSON.stringify(join(folder, 'words'))}, process.argv.at(-1) + '\\n');
       ${body}`,
    );
    return [process.execPath, file];
  };
  const wordsSaid = () =>
    existsSync(join(folder, 'words')) ? readFileSync(join(folder, 'words'), 'utf8').trim().split('\n') : [];
  const mended = () => JSON.stringify(join(folder, 'mended'));

  let folder = '';
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'slackwater-command-'));
  });
  afterEach(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));

  test.each([
    ['exits with a fault', 'console.error("no bus"); process.exit(4);', /code 4: no bus/],
    ['crashes', 'process.kill(process.pid, "SIGSEGV"); setInterval(() => {}, 1000);', /ended by SIGSEGV/],
  ])('one that %s is noticed, and run again when it is mended', async (_, fault, words) => {
    const clock = createFakeClock();
    const heard: (string | null)[] = [];
    const output = createUserCommand({
      command: script(`if (!existsSync(${mended()})) { ${fault} }`),
      clock,
      health: (one) => heard.push(one === null ? null : inWords(one)),
    });
    output.sound('high');
    await expect.poll(() => heard.length, { timeout: 10_000 }).toBe(1);
    expect(heard[0]).toMatch(words);
    writeFileSync(join(folder, 'mended'), '');
    clock.advance(1_100);
    await expect.poll(() => heard.length, { timeout: 10_000 }).toBe(2);
    expect(heard[1]).toBeNull();
    expect(wordsSaid()).toEqual(['high', 'high']);
  });

  test('one that hangs and will not be told is killed, with what it has started', async () => {
    const clock = createFakeClock();
    const heard: (string | null)[] = [];
    const pidFile = JSON.stringify(join(folder, 'pid'));
    const output = createUserCommand({
      command: script(
        `const { spawn } = await import('node:child_process');
         const { writeFileSync } = await import('node:fs');
         process.on('SIGTERM', () => {});
         const child = spawn(process.execPath, ['-e', 'process.on("SIGTERM", () => {}); setInterval(() => {}, 1000)']);
         writeFileSync(${pidFile}, String(child.pid));
         setInterval(() => {}, 1000);`,
      ),
      clock,
      health: (one) => heard.push(one === null ? null : inWords(one)),
    });
    output.sound('high');
    const readPid = () => {
      try {
        return Number(readFileSync(join(folder, 'pid'), 'utf8'));
      } catch {
        return 0;
      }
    };
    await expect.poll(readPid, { timeout: 10_000 }).toBeGreaterThan(0);
    const pid = readPid();
    clock.advance(10_100);
    await expect.poll(() => heard.length, { timeout: 10_000 }).toBe(1);
    expect(heard[0]).toMatch(/did not end within 10 s/);
    const isAlive = () => {
      try {
        process.kill(pid, 0);
        // A zombie that nobody has read yet is dead too.
        return !/^State:\s+Z/m.test(readFileSync(`/proc/${pid}/status`, 'utf8'));
      } catch {
        return false;
      }
    };
    await expect.poll(isAlive, { timeout: 10_000 }).toBe(false);
    output.close();
  });
});

describe('a webhook', () => {
  interface Posted {
    readonly body: Record<string, unknown>;
    readonly text: string;
    readonly headers: Readonly<Record<string, string>>;
  }
  function hook(more: Partial<WebhookOptions> = {}) {
    const posted: Posted[] = [];
    const heard: (string | null)[] = [];
    const clock = createFakeClock();
    const answer = { status: 204 };
    const output = createWebhook({
      url: 'http://lamp.test/alarm',
      clock,
      beaconMs: 60_000,
      isWell: () => true,
      post: (_, text, headers) => {
        posted.push({ text, headers, body: JSON.parse(text) as Record<string, unknown> });
        return answer.status === 0 ? Promise.reject(new Error('refused')) : Promise.resolve(answer.status);
      },
      health: (fault) => heard.push(fault === null ? null : inWords(fault)),
      ...more,
    });
    const alarms = () => posted.map(({ body }) => body['alarm']);
    return { output, posted, heard, clock, answer, alarms };
  }

  test('posts each change once, in order, numbered', async () => {
    const { output, posted } = hook();
    expect(await output.test()).toEqual({ ok: true });
    output.sound('high');
    output.sound('high');
    await settled();
    output.sound(null);
    await settled();
    expect(posted.map(({ body }) => body)).toEqual([
      { alarm: 'test', sequence: 1 },
      { alarm: 'high', sequence: 2 },
      { alarm: 'none', sequence: 3 },
    ]);
  });

  test('tries again with growing pauses until it is taken, and says why it was not', async () => {
    const { output, heard, clock, answer, alarms } = hook();
    answer.status = 500;
    output.sound('high');
    await settled();
    for (const waitMs of [1_000, 2_000, 4_000]) {
      const before = alarms().length;
      clock.advance(waitMs - 50);
      await settled();
      expect(alarms()).toHaveLength(before);
      clock.advance(100);
      await settled();
      expect(alarms()).toHaveLength(before + 1);
    }
    answer.status = 204;
    clock.advance(8_100);
    await settled();
    expect(alarms()).toEqual(['high', 'high', 'high', 'high', 'high']);
    expect(heard.at(0)).toBe('lamp.test answered 500');
    expect(heard.at(-1)).toBeNull();
    clock.advance(30_000);
    await settled();
    expect(alarms()).toHaveLength(5);
  });

  test('an alarm that comes back while its end goes unanswered is posted again', async () => {
    const { output, answer, alarms } = hook();
    output.sound('high');
    await settled();
    // Taken by the receiver, it may be, and not answered.
    answer.status = 0;
    output.sound(null);
    output.sound('high');
    answer.status = 204;
    await settled();
    expect(alarms()).toEqual(['high', 'none', 'high']);
  });

  test('gives a change up after its time, and the beacon says what should sound', async () => {
    const { output, posted, clock, answer } = hook();
    answer.status = 0;
    output.sound('high');
    await settled();
    for (let second = 0; second < 130; second += 1) {
      clock.advance(1_000);
      await settled();
    }
    const tried = posted.filter(({ body }) => body['beacon'] !== true).length;
    answer.status = 204;
    clock.advance(49_000);
    await settled();
    expect(posted.filter(({ body }) => body['beacon'] !== true)).toHaveLength(tried);
    clock.advance(2_000);
    await settled();
    expect(posted.at(-1)!.body).toMatchObject({
      alarm: 'high',
      beacon: true,
      well: true,
      nextWithinMs: 60_000,
    });
  });

  test('each beacon says whether all is well; the last, that no more will come', async () => {
    let well = true;
    const { output, posted, clock } = hook({ isWell: () => well });
    clock.advance(60_000);
    well = false;
    clock.advance(60_000);
    output.close();
    await settled();
    expect(posted.map(({ body }) => [body['well'], body['nextWithinMs']])).toEqual([
      [true, 60_000],
      [false, 60_000],
      [true, null],
    ]);
    expect(clock.timerCount).toBe(0);
  });

  test('is signed over its time and body', async () => {
    const { output, posted } = hook({ secret: 'a secret of the test' });
    await output.test();
    const { text, headers } = posted[0]!;
    const time = headers['slackwater-time']!;
    expect(headers['slackwater-signature']).toBe(
      createHmac('sha256', 'a secret of the test').update(`${time}\n${text}`).digest('hex'),
    );
  });
});
