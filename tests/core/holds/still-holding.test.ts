// Asked whether a marked hold has ended, somebody says that it has not: the question rests, the hold goes on as a hold, no
// alarm gets weaker by it, and no later reckoning puts the end before that word.

import * as fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { armedAfterProbableEndMs, type HoldEvent } from '../../../src/holds/hold.ts';
import { createHoldDetector } from '../../../src/holds/live-detector.ts';
import { reestimateHolds } from '../../../src/holds/smoothing.ts';
import { createPipeline } from '../../../src/pipeline.ts';
import type { Mark } from '../../../src/samples/mark.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { createRandom } from '../../support/corpus/seeded-random.ts';
import { sketchPerson, sketchSession } from '../../support/corpus/sketched-athlete.ts';
import { settingsWithFloor } from '../../support/scoring/judge-session.ts';

const mark = (kind: Mark['kind'], atMs: number, markId: string = kind): Mark => ({
  markId,
  kind,
  atMs: monotonicMs(atMs),
});

// SIMULATED, a clear case: the signals show the hold from 200 to 320 s, and breathing after it.
const holdFromMs = 200_000;
const holdToMs = 320_000;
const clear = sketchSession(
  21,
  sketchPerson(createRandom(21), { rsaBpm: 6, fallFraction: 0.25, startRiseBpm: 4, slowWaveBpm: 1 }),
  { holds: [{ startMs: holdFromMs, endMs: holdToMs }], durationMs: 620_000 },
);

interface Said {
  readonly atMs: number;
  readonly event: HoldEvent;
}

/** What is said of the marked hold when somebody answers "still holding" `afterMs` after each asking, `times` times. */
function answered(afterMs: number, times: number, takenBackAfterMs?: number) {
  const detector = createHoldDetector();
  const said: Said[] = [];
  const words: number[] = [];
  let [isMarked, askedAtMs] = [false, Number.NaN];
  let takeBackAtMs = Number.POSITIVE_INFINITY;
  const push = (atMs: number, events: readonly HoldEvent[]): void => {
    for (const event of events) {
      said.push({ atMs, event });
      if (event.type === 'holdRevised' && event.hold.probableEnd !== undefined) askedAtMs = atMs;
    }
  };
  for (const one of clear) {
    const { atMs } = one;
    if (!isMarked && atMs >= holdFromMs) {
      isMarked = true;
      push(atMs, detector.push({ type: 'mark', mark: mark('holdStart', holdFromMs) }));
    }
    if (atMs >= askedAtMs + afterMs && words.length < times && detector.current?.probableEnd !== undefined) {
      words.push(atMs);
      takeBackAtMs = atMs + (takenBackAfterMs ?? Number.POSITIVE_INFINITY);
      push(atMs, detector.push({ type: 'mark', mark: mark('stillHolding', atMs, `word-${words.length}`) }));
      expect(detector.current).toBeDefined();
      expect(detector.current?.probableEnd).toBeUndefined();
    }
    if (atMs >= takeBackAtMs) {
      takeBackAtMs = Number.POSITIVE_INFINITY;
      detector.push({ type: 'markRemoved', markId: `word-${words.length}` });
    }
    push(atMs, detector.push({ type: 'sample', sample: one }));
  }
  const asked = said.flatMap(({ atMs, event }) =>
    event.type === 'holdRevised' && event.hold.probableEnd !== undefined ? [atMs] : [],
  );
  return { said, asked, words, ended: said.find(({ event }) => event.type === 'holdEnded') };
}

test('"still holding" quiets the question for a minute, then it is asked again; no end lies before the word', () => {
  const { asked, words, ended } = answered(10_000, 1);
  expect(words).toHaveLength(1);
  expect(asked).toHaveLength(2);
  expect(asked[1]! - words[0]!).toBeGreaterThanOrEqual(60_000);
  expect(asked[1]! - words[0]!).toBeLessThan(80_000);
  const { event, atMs } = ended!;
  expect(atMs - asked[1]!).toBeGreaterThan(armedAfterProbableEndMs - 1_000);
  expect(event.type === 'holdEnded' && event.hold.end!.atMs).toBeGreaterThanOrEqual(words[0]!);
});

test('for any time of answering, the hold is never counted as over before a minute after each word', () => {
  fc.assert(
    fc.property(fc.integer({ min: 0, max: 58_000 }), fc.integer({ min: 1, max: 3 }), (afterMs, times) => {
      const { words, ended } = answered(afterMs, times);
      expect(words.length).toBeGreaterThanOrEqual(1);
      if (ended !== undefined) expect(ended.atMs - words.at(-1)!).toBeGreaterThan(60_000);
    }),
    { numRuns: 6 },
  );
});

test('a word that is taken back holds nothing off', () => {
  const { asked, words } = answered(5_000, 1, 2_000);
  expect(asked[1]! - words[0]!).toBeLessThan(45_000);
});

describe('alarms', () => {
  const settings = { ...settingsWithFloor(88), maxHoldDurationMs: 60_000 };
  /** The clear case with a saturation that stays well above the floor. */
  const withSaturation = clear.map((one) =>
    one.channel === 'spo2Percent' ? { ...one, value: 97, quality: 'good' as const, reasons: [] } : one,
  );
  const follow = (samples: readonly Sample[], wordsAtMs: readonly number[]) => {
    const pipeline = createPipeline(settings);
    const left = [...wordsAtMs];
    let isMarked = false;
    const seen: string[] = [];
    const standing = () =>
      pipeline.state.alarms.map(({ kind, priority, conditionPresent }) => ({
        kind,
        priority,
        conditionPresent,
      }));
    for (const one of samples) {
      if (!isMarked && one.atMs >= holdFromMs) {
        isMarked = true;
        pipeline.push({ type: 'mark', mark: mark('holdStart', holdFromMs) });
      }
      if (one.atMs >= (left[0] ?? Number.POSITIVE_INFINITY)) {
        left.shift();
        // What time alone brings is not the word's doing.
        pipeline.push({ type: 'advance', atMs: one.atMs });
        const before = standing();
        const { priority } = pipeline.state.sound;
        const wasHeld = pipeline.state.holds.some(({ hold }) => hold.end === undefined);
        const { floorLocked } = pipeline.state;
        pipeline.push({ type: 'mark', mark: mark('stillHolding', one.atMs, `word-${one.atMs}`) });
        for (const alarm of before) expect(standing()).toContainEqual(alarm);
        if (priority === 'high') expect(pipeline.state.sound.priority).toBe('high');
        expect(pipeline.state.holds.some(({ hold }) => hold.end === undefined)).toBe(wasHeld);
        expect(pipeline.state.floorLocked).toBe(floorLocked);
      }
      pipeline.push({ type: 'sample', sample: one });
      seen.push(pipeline.state.alarms.some(({ kind }) => kind === 'noBreathingSign') ? 'alarm' : '-');
    }
    return { pipeline, seen };
  };

  test('none is weaker after the word than before it, whenever it is said', () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: 190_000, max: 600_000 }), { minLength: 1, maxLength: 12 }),
        (times) => {
          follow(
            withSaturation,
            times.sort((one, other) => one - other),
          );
        },
      ),
      { numRuns: 5 },
    );
  });

  test('the alarm that no breathing was seen is withdrawn by breathing that is borne out, and back with the word', () => {
    const at = (atMs: number): number => withSaturation.findIndex((one) => one.atMs >= atMs);
    const { seen } = follow(withSaturation, []);
    // The longest time is over at 260 s, the hold at 320 s, breathing is believed about half a minute later.
    expect(seen[at(300_000)]).toBe('alarm');
    const withdrawnAt = seen.indexOf('-', at(300_000));
    const withdrawnMs = withSaturation[withdrawnAt]!.atMs;
    expect(withdrawnMs - holdToMs).toBeGreaterThan(25_000);
    expect(withdrawnMs - holdToMs).toBeLessThan(60_000);
    const wordMs = withdrawnMs + 8_000;
    const again = follow(withSaturation, [wordMs]).seen;
    expect(again[at(wordMs) - 1]).toBe('-');
    expect(again[at(wordMs)]).toBe('alarm');
  });
});

test('afterwards, an end that the signals put before the word is none, and one after it stands', () => {
  const marks = (wordMs: number) => [mark('holdStart', holdFromMs), mark('stillHolding', wordMs)];
  const endOf = (wordMs: number) => reestimateHolds(clear, marks(wordMs))[0]!.end;
  expect(Math.abs(endOf(holdToMs - 40_000)!.atMs - holdToMs)).toBeLessThan(5_000);
  expect(endOf(holdToMs + 40_000)).toBeUndefined();
});
