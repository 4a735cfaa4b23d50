// The checks as a page asks for them: beside the hub, one run for all who ask, and the disk left alone while a session runs.

import { existsSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { constants, tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { systemClock } from '../../../hub/base/system-clock.ts';
import { type CheckComputer, checkInProcess } from '../../../hub/machine/checking-process.ts';
import { said } from '../../../shared/said.ts';
import { failed, ok } from '../../../src/result.ts';
import { createFakeClock } from '../../support/fake-clock.ts';
import { ownCookie } from '../../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../../support/serve-test-hub.ts';

const settings = {
  data: '',
  host: '127.0.0.1',
  port: 0,
  lan: true,
  'lan-host': '::',
  'lan-port': 0,
  certificate: undefined,
  radio: 'noble',
  'backup-folder': undefined,
  'backup-every': 24,
} as const;

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'slackwater-checks-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));

const program = (name: string, text: string): readonly string[] => {
  const path = join(folder, `${name}.mjs`);
  writeFileSync(path, text);
  return [path];
};
const askOf = (words: readonly string[], clock = systemClock) =>
  checkInProcess(() => ({ ...settings, data: folder }), clock, words);

describe('the process beside the hub', () => {
  test('is told the hub’s own settings, and to leave the disk alone where it should', async () => {
    const echo = program(
      'echo',
      `const text = process.argv.slice(2).join(' ');
       console.log(JSON.stringify([{ check: 'node', state: 'good', said: { code: 'said.asTold', params: { text } } }]));`,
    );
    const measured = await askOf(echo)({ measuresDisk: true });
    expect(measured).toMatchObject({
      ok: true,
      value: [{ said: { params: { text: expect.stringContaining(`--data=${folder}`) } } }],
    });
    expect(JSON.stringify(measured)).not.toContain('no-disk-speed');
    expect(JSON.stringify(measured)).not.toContain('backup-folder');
    expect(JSON.stringify(await askOf(echo)({ measuresDisk: false }))).toContain('--no-disk-speed');
  });

  test('has less right to the processors', async () => {
    const tell = program(
      'nice',
      `import { getPriority } from 'node:os';
       await new Promise((resolve) => setTimeout(resolve, 20));
       console.log(JSON.stringify([{ check: 'node', state: 'good', said: { code: 'said.asTold', params: { text: String(getPriority()) } } }]));`,
    );
    const answer = await askOf(tell)({ measuresDisk: true });
    if (!answer.ok) throw new Error(JSON.stringify(answer.reason));
    expect(Number(answer.value[0]?.said.params['text'])).toBeGreaterThanOrEqual(
      constants.priority.PRIORITY_BELOW_NORMAL,
    );
  });

  test('what it says instead of findings is told', async () => {
    const broken = program('broken', `console.error('slackwater: the folder is gone.'); process.exit(2);`);
    expect(await askOf(broken)({ measuresDisk: true })).toEqual({
      ok: false,
      reason: said('machine.notRun', { reason: 'the folder is gone' }),
    });
  });

  test('one without an end is ended, and nothing waits for it', async () => {
    const clock = createFakeClock();
    const stuck = program('stuck', 'setInterval(() => undefined, 1_000);');
    const answer = checkInProcess(
      () => ({ ...settings, data: folder }),
      clock,
      stuck,
    )({ measuresDisk: true });
    clock.advance(30_000);
    expect(await answer).toEqual({ ok: false, reason: said('machine.tookTooLong', { seconds: 30 }) });
  });

  test.skipIf(!existsSync(new URL('../../../dist/hub/main.js', import.meta.url)))(
    'the real one finds the same as the command, and leaves nothing behind',
    async () => {
      const data = mkdtempSync(join(folder, 'data-'));
      const answer = await checkInProcess(
        () => ({ ...settings, data }),
        systemClock,
      )({ measuresDisk: false });
      if (!answer.ok) throw new Error(JSON.stringify(answer.reason));
      expect(answer.value.map(({ check }) => check)).toContain('lanPort');
      expect(answer.value.find(({ check }) => check === 'disk')?.said.code).toMatch(/unmeasured|full/);
      expect(readdirSync(data)).toEqual([]);
    },
  );
});

describe('POST /api/computer/checks', () => {
  let served: ServedTestHub;
  afterEach(() => served.close());
  const ask = () =>
    served.server.app.inject({
      method: 'POST',
      url: '/api/computer/checks',
      headers: { host: 'localhost', cookie: ownCookie },
      payload: {},
    });

  test('answers with findings and when; while a session runs the disk is not measured', async () => {
    const asked: boolean[] = [];
    const checkComputer: CheckComputer = async ({ measuresDisk }) => {
      asked.push(measuresDisk);
      return ok([{ check: 'sound', state: 'warning', said: said('machine.sound.none') }]);
    };
    served = await serveTestHub({ checkComputer });
    expect((await ask()).json()).toEqual({
      checkedWallAtMs: served.clock.wallNowMs(),
      findings: [{ check: 'sound', state: 'warning', said: { code: 'machine.sound.none', params: {} } }],
    });
    served.hub.startSession(['mira'], '');
    expect((await ask()).statusCode).toBe(200);
    expect(asked).toEqual([true, false]);
  });

  test('two who ask at once are answered by one run', async () => {
    let runs = 0;
    let finish: () => void = () => undefined;
    const until = new Promise<void>((resolve) => {
      finish = resolve;
    });
    served = await serveTestHub({
      checkComputer: async () => {
        runs += 1;
        await until;
        return ok([]);
      },
    });
    const both = [ask(), ask()];
    // Injected requests take no more than some turns of the loop to be there.
    for (let turn = 0; turn < 500; turn += 1) await new Promise((resolve) => setImmediate(resolve));
    finish();
    for (const { statusCode } of await Promise.all(both)) expect(statusCode).toBe(200);
    expect((await ask()).statusCode).toBe(200);
    expect(runs).toBe(2);
  });

  test('why there are none is told', async () => {
    served = await serveTestHub({
      checkComputer: async () => failed(said('machine.tookTooLong', { seconds: 30 })),
    });
    const answer = await ask();
    expect(answer.statusCode).toBe(500);
    expect(answer.json().message).toContain('30 s');
  });
});
