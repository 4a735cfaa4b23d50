import fc from 'fast-check';
import { expect, test } from 'vitest';
import { told } from '../../../hub/base/hub-error.ts';
import type { AlarmOutput, OutputHealth, OutputSound } from '../../../hub/outputs/alarm-output.ts';
import { createAlarmOutputs } from '../../../hub/outputs/alarm-outputs.ts';
import type { AlarmPriority } from '../../../shared/schema-parts.ts';
import { createFakeClock } from '../../support/fake-clock.ts';
import { inWords } from '../../support/in-words.ts';

interface FakeOutput extends AlarmOutput {
  works: boolean;
  probed: number;
  sounded: (OutputSound | null)[];
  closed: boolean;
}
function fakeOutput(name: string, works: boolean): FakeOutput {
  return {
    name: told(name),
    works,
    probed: 0,
    sounded: [],
    closed: false,
    async test() {
      return this.works ? { ok: true } : { ok: false, reason: told('no card') };
    },
    async probe() {
      this.probed += 1;
      return this.test();
    },
    sound(priority) {
      this.sounded.push(priority);
    },
    close() {
      this.closed = true;
    },
  };
}

function outputsOf(loudspeaker: AlarmOutput | null, others: readonly AlarmOutput[] = []) {
  const clock = createFakeClock();
  const health: OutputHealth[] = [];
  const outputs = createAlarmOutputs({
    clock,
    loudspeaker:
      loudspeaker === null
        ? null
        : (heard) => {
            health.push(heard);
            return loudspeaker;
          },
    others: others.map((other) => () => other),
  });
  return { outputs, clock, health };
}
const settled = () => new Promise((resolve) => setImmediate(resolve));

test('only a loudspeaker that works counts as sound; each that fails is named, and named as mended', async () => {
  const speaker = fakeOutput('loudspeaker (aplay)', false);
  const { outputs, health } = outputsOf(speaker, [fakeOutput('webhook (x)', true)]);
  const heard: [string, string | null][] = [];
  outputs.onHealth((name, reason) => heard.push([inWords(name), reason === null ? null : inWords(reason)]));
  await outputs.test();
  expect(outputs.faults).toEqual([{ name: told('loudspeaker (aplay)'), reason: told('no card') }]);
  expect(outputs.soundReadyCount).toBe(0);
  // In use it is found to work.
  health[0]?.(null);
  expect(outputs.soundReadyCount).toBe(1);
  health[0]?.(told('aplay hangs'));
  expect(outputs.soundReadyCount).toBe(0);
  expect(heard).toEqual([
    ['loudspeaker (aplay)', 'no card'],
    ['loudspeaker (aplay)', null],
    ['loudspeaker (aplay)', 'aplay hangs'],
  ]);
});

test('each is probed at intervals, more often while a session runs, and a failing one is found', async () => {
  const speaker = fakeOutput('loudspeaker (aplay)', true);
  const { outputs, clock } = outputsOf(speaker);
  await outputs.test();
  clock.advance(600_000);
  expect(speaker.probed).toBe(1);
  outputs.setInUse(true);
  expect(speaker.probed).toBe(2);
  speaker.works = false;
  clock.advance(60_000);
  await settled();
  expect(outputs.faults).toEqual([{ name: told('loudspeaker (aplay)'), reason: told('no card') }]);
  speaker.works = true;
  clock.advance(60_000);
  await settled();
  expect(outputs.faults).toEqual([]);
  outputs.close();
  expect(clock.timerCount).toBe(0);
});

test('the most urgent of all athletes sounds, each change is told once, and silence at the end', () => {
  const rank = { high: 3, medium: 2, low: 1 } as const;
  const change = fc.tuple(
    fc.constantFrom('a', 'b', 'c'),
    fc.constantFrom<AlarmPriority | null>('high', 'medium', 'low', null),
  );
  fc.assert(
    fc.property(fc.array(change, { maxLength: 40 }), (changes) => {
      const output = fakeOutput('loudspeaker', true);
      const { outputs } = outputsOf(output);
      const now = new Map<string, AlarmPriority | null>();
      for (const [athleteId, priority] of changes) {
        now.set(athleteId, priority);
        outputs.setPriority(athleteId, priority);
        const most = [...now.values()].reduce<AlarmPriority | null>(
          (best, p) => (p !== null && (best === null || rank[p] > rank[best]) ? p : best),
          null,
        );
        expect(output.sounded.at(-1) ?? null).toBe(most);
      }
      expect(output.sounded.every((p, i) => i === 0 || p !== output.sounded[i - 1])).toBe(true);
      outputs.silenceAthletes();
      expect(output.sounded.at(-1) ?? null).toBeNull();
    }),
  );
});
