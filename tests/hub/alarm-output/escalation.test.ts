// Who is called while a high alarm stays unanswered: after its time, not before, never for less, and no longer than it calls.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { readConfig } from '../../../hub/base/config.ts';
import { told } from '../../../hub/base/hub-error.ts';
import type { AlarmNews, AlarmOutput, OutputSound } from '../../../hub/outputs/alarm-output.ts';
import { createAlarmOutputs, ofTheWatching } from '../../../hub/outputs/alarm-outputs.ts';
import { escalateAfter } from '../../../hub/outputs/escalation.ts';
import { soundAlarms } from '../../../hub/outputs/sound-alarms.ts';
import type { AlarmPriority } from '../../../shared/schema-parts.ts';
import { createFakeClock } from '../../support/fake-clock.ts';
import { inWords } from '../../support/in-words.ts';
import { openPageHub } from '../../support/page-hub.ts';

interface Heard {
  readonly atMs: number;
  readonly priority: OutputSound | null;
  readonly news: readonly AlarmNews[];
}

function contact() {
  const clock = createFakeClock();
  const heard: Heard[] = [];
  let tests = 0;
  const inner: AlarmOutput = {
    name: told('telephone'),
    test: async () => {
      tests += 1;
      return { ok: true };
    },
    probe: async () => ({ ok: true }),
    sound: (priority, news = []) => heard.push({ atMs: clock.nowMs(), priority, news }),
    close: () => undefined,
  };
  return { clock, heard, output: escalateAfter(30_000, clock, inner), testCount: () => tests };
}

test('a high alarm that nobody answers calls after its time, and its end ends it', () => {
  const { clock, heard, output } = contact();
  const from = clock.nowMs();
  output.sound('high');
  clock.advance(29_900);
  expect(heard).toEqual([]);
  clock.advance(200);
  expect(heard).toMatchObject([{ priority: 'high' }]);
  expect(heard[0]!.atMs - from).toBe(30_000);
  output.sound('medium');
  expect(heard.at(-1)).toMatchObject({ priority: null });
  clock.advance(300_000);
  expect(heard).toHaveLength(2);
});

test('answered in time, nobody is called; answered and then again, the time begins anew', () => {
  const { clock, heard, output } = contact();
  output.sound('high');
  clock.advance(20_000);
  output.sound(null);
  clock.advance(5_000);
  output.sound('high');
  clock.advance(25_000);
  expect(heard).toEqual([]);
  clock.advance(5_000);
  expect(heard).toHaveLength(1);
});

test('another athlete’s alarm in the meantime does not put the call off', () => {
  const { clock, heard, output } = contact();
  output.sound('high', []);
  clock.advance(20_000);
  output.sound('high', [
    { who: 'athlete 2', kind: 'floorBreached', priority: 'high', value: 80, sinceWallMs: 0 as never },
  ]);
  clock.advance(10_000);
  expect(heard).toMatchObject([{ priority: 'high', news: [{ who: 'athlete 2' }] }]);
});

test('nobody is called to try it out', async () => {
  const { output, testCount } = contact();
  expect(await output.test()).toEqual({ ok: true });
  expect(testCount()).toBe(0);
  expect(inWords(output.name)).toBe('telephone, called after 30 s without an answer');
});

test('for any course of priorities: called exactly while high has lasted 30 s', () => {
  const priority = fc.constantFrom<AlarmPriority | null>('high', 'medium', 'low', null);
  fc.assert(
    fc.property(
      fc.array(fc.record({ priority, seconds: fc.integer({ min: 0, max: 70 }) }), { maxLength: 30 }),
      (steps) => {
        const { clock, heard, output } = contact();
        let highForMs = -1;
        for (const step of steps) {
          output.sound(step.priority);
          if (step.priority !== 'high') highForMs = -1;
          else if (highForMs < 0) highForMs = 0;
          clock.advance(step.seconds * 1_000);
          if (highForMs >= 0) highForMs += step.seconds * 1_000;
          expect(heard.at(-1)?.priority ?? null).toBe(highForMs >= 30_000 ? 'high' : null);
        }
      },
    ),
    { numRuns: 300 },
  );
});

test('the settings: seconds and where, one after another; anything else is refused', () => {
  const read = (text: string) => readConfig(['--alarm-escalation', text], {}).config['alarm-escalation'];
  expect(read('30 https://call.test/now, 90 ./ring.sh loud')).toBe(
    '30 https://call.test/now, 90 ./ring.sh loud',
  );
  for (const bad of ['soon ./ring.sh', '4 ./ring.sh', '30', '30 a,,', '30 a, b'])
    expect(() => read(bad), bad).toThrow(/--alarm-escalation/);
});

test.each([
  [false, 'athlete 2'],
  [true, 'Teo Lindqvist'],
])('outputs hear who, what, how much and since when; names only by wish (%s)', async (named, who) => {
  const hub = await openPageHub({ athleteCount: 2 });
  const heard: Heard[] = [];
  const output: AlarmOutput = {
    name: told('lamp'),
    test: async () => ({ ok: true }),
    probe: async () => ({ ok: true }),
    sound: (priority, news = []) => heard.push({ atMs: hub.clock.nowMs(), priority, news }),
    close: () => undefined,
  };
  const outputs = createAlarmOutputs({ clock: hub.clock, loudspeaker: null, others: [() => output] });
  const stop = soundAlarms(hub.hub, outputs, named);
  hub.pass(20);
  hub.live(1, { spo2Percent: 80, heartRateBpm: 60 });
  hub.pass(10);
  const floor = heard.at(-1)!.news.find(({ kind }) => kind === 'floorBreached');
  expect(heard.at(-1)).toMatchObject({ priority: 'high' });
  expect(floor).toMatchObject({ who, priority: 'high', value: 80 });
  expect(Math.abs(floor!.sinceWallMs - hub.clock.wallNowMs())).toBeLessThan(12_000);
  hub.hub.acknowledge('athlete-2');
  expect(heard.at(-1)!.news.some(({ kind }) => kind === 'floorBreached')).toBe(false);
  outputs.setPriority(ofTheWatching, null);
  stop();
  outputs.close();
  await hub.close();
});
