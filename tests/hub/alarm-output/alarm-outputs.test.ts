import fc from 'fast-check';
import { expect, test } from 'vitest';
import { told } from '../../../hub/base/hub-error.ts';
import type { AlarmOutput } from '../../../hub/outputs/alarm-output.ts';
import { createAlarmOutputs } from '../../../hub/outputs/alarm-outputs.ts';
import type { AlarmPriority } from '../../../shared/schema-parts.ts';
import { inWords } from '../../support/in-words.ts';

function fakeOutput(
  name: string,
  works: boolean,
): AlarmOutput & { sounded: (AlarmPriority | null)[]; closed: boolean } {
  return {
    name: told(name),
    sounded: [],
    closed: false,
    async test() {
      return works ? { ok: true } : { ok: false, reason: told('no card') };
    },
    sound(priority) {
      this.sounded.push(priority);
    },
    close() {
      this.closed = true;
    },
  };
}

test('only a loudspeaker that passed its test counts as sound; failures are sentences', async () => {
  const broken = createAlarmOutputs(fakeOutput('loudspeaker (aplay)', false), [
    fakeOutput('webhook (x)', true),
  ]);
  expect((await broken.test()).map((failure) => inWords(failure))).toEqual([
    'The loudspeaker (aplay) does not work as an alarm output: no card.',
  ]);
  expect(broken.soundReadyCount).toBe(0);
  const working = createAlarmOutputs(fakeOutput('loudspeaker (aplay)', true), []);
  expect(working.soundReadyCount).toBe(0);
  expect(await working.test()).toEqual([]);
  expect(working.soundReadyCount).toBe(1);
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
      const outputs = createAlarmOutputs(output, []);
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
      outputs.silence();
      expect(output.sounded.at(-1) ?? null).toBeNull();
    }),
  );
});
