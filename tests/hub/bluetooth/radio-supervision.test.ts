// When a radio process is taken for hung: by silence that the hub has listened to, not by time in which the hub itself stood still.

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Clock } from '../../../hub/base/ports/clock.ts';
import type { RadioEvent } from '../../../hub/sensors/bluetooth/radio.ts';
import { RadioProcess, supervisionPolicy } from '../../../hub/sensors/bluetooth/radio-process.ts';
import { processMs, wallMs } from '../../../shared/units.ts';
import { until } from '../../bluetooth/rig/virtual-air.ts';

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'radio-hangs-'));
});
afterAll(() => rmSync(folder, { recursive: true }));

test('a hub that stood still for ten seconds ends no radio by it; four seconds without an answer while it looks do', async () => {
  // Answers once and never again.
  const entry = join(folder, 'once.mjs');
  writeFileSync(
    entry,
    `let answered = false;
    process.on('message', ({ type, askedAtMs }) => {
      if (type === 'ping' && !answered) process.send({ type: 'pong', askedAtMs, answeredAtMs: performance.now() });
      answered = true;
    });
    process.on('disconnect', () => process.exit(0));`,
  );
  let nowMs = 1_000;
  let beat = (): void => {};
  const clock: Clock = {
    nowMs: () => processMs(nowMs),
    every: (_everyMs, tick) => {
      beat = tick;
      return () => {};
    },
    after: () => () => {},
    soon: () => {},
    wallNowMs: () => wallMs(0),
  };
  const events: RadioEvent[] = [];
  const radio = new RadioProcess({
    config: { library: 'bluez', adapterIndex: null } as never,
    clock,
    log: () => {},
    entry,
  });
  radio.start({ event: (event) => events.push(event) });
  await until('its answer', () => radio.health.clockUncertaintyMs !== null, 60_000);
  const processId = radio.health.processId!;
  const pass = (ms: number): void => {
    for (let passed = 0; passed < ms; passed += supervisionPolicy.heartbeatEveryMs) {
      nowMs += supervisionPolicy.heartbeatEveryMs;
      beat();
    }
  };
  pass(1_000);
  nowMs += 10_000;
  beat();
  pass(2_000);
  expect(events).toEqual([]);
  pass(2_000);
  expect(events).toMatchObject([{ type: 'problem', reason: { code: 'radio.stoppedAnswering' } }]);
  try {
    process.kill(processId, 'SIGKILL');
  } catch {
    // The radio has ended it already.
  }
}, 120_000);
