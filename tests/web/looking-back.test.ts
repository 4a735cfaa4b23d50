// Limits of a boundary moved by hand, room for a new hold, weeks of a calendar, and a timing kept over a reload.

import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../shared/units.ts';
import type { HoldView } from '../../shared/views.ts';
import { tapTiming } from '../../src/training/lap-timing.ts';
import { boundaryLimits, freeSpan, withinLimits } from '../../web/state/boundary-limits.ts';
import { localDay, mondayOf, weekdayOf, weeksOfLoad } from '../../web/state/calendar.ts';
import { forgetTiming, forgetTimingOf, keepTiming, readTiming } from '../../web/state/lap-storage.ts';

const boundary = (atMs: number): HoldView['start'] => ({
  atMs: monotonicMs(atMs),
  uncertaintyMs: 0,
  declaredAtMs: monotonicMs(atMs),
  source: 'detected',
  evidence: [],
});
const span = (startMs: number, endMs: number | null) => ({
  start: boundary(startMs),
  end: endMs === null ? null : boundary(endMs),
});

describe('boundaries', () => {
  const holds = [span(10_000, 60_000), span(90_000, 150_000), span(200_000, null)];
  test('stay between the neighbours and a second apart', () => {
    expect(boundaryLimits(holds, 1, 'start', 300_000)).toEqual({ leastMs: 60_000, greatestMs: 149_000 });
    expect(boundaryLimits(holds, 1, 'end', 300_000)).toEqual({ leastMs: 91_000, greatestMs: 200_000 });
    expect(boundaryLimits(holds, 0, 'start', 300_000).leastMs).toBe(0);
    expect(boundaryLimits(holds, 2, 'start', 300_000).greatestMs).toBe(299_000);
    expect(withinLimits(400_000.4, { leastMs: 0, greatestMs: 300_000 })).toBe(300_000);
  });
  test('a new hold takes the middle half of the largest free part in sight', () => {
    expect(freeSpan(holds.slice(0, 2), 0, 300_000, 300_000)).toEqual({ startMs: 187_500, endMs: 262_500 });
    expect(freeSpan(holds.slice(0, 2), 20_000, 100_000, 300_000)).toEqual({
      startMs: 67_500,
      endMs: 82_500,
    });
    expect(freeSpan([span(0, null)], 0, 300_000, 300_000)).toBeNull();
  });
});

describe('the calendar', () => {
  test('weeks begin on Monday; sessions and entries of one day stand together', () => {
    // 2026-03-16 was a Monday.
    const monday = localDay(Date.UTC(2026, 2, 16, 9));
    expect(weekdayOf(monday)).toBe(0);
    expect(mondayOf(monday + 6)).toBe(monday);
    const weeks = weeksOfLoad(
      [
        { day: monday, heldMs: 60_000, rated: { effort: 'hard', minutes: 40 } },
        { day: monday, heldMs: 30_000, rated: { effort: null, minutes: 30 } },
        { day: monday - 1, heldMs: 5_000, rated: { effort: null, minutes: 20 } },
      ],
      [{ day: monday + 2, rated: { effort: 'easy', minutes: 30 } }],
      monday - 14,
      monday + 3,
    );
    expect(weeks.map(({ day }) => day)).toEqual([monday, monday - 7, monday - 14]);
    expect(weeks[0]).toMatchObject({ sessionCount: 2, heldMs: 90_000 });
    expect(weeks[0]?.days[2]).toEqual({ day: monday + 2, sessionCount: 0, heldMs: 0, entryCount: 1 });
    // Holds and log alike: 5 times 40 and 2 times 30; of one nobody said how hard it was.
    expect(weeks[0]?.load).toEqual({ load: 260, sessionCount: 3, unknownCount: 1 });
    expect(weeks[1]?.load).toEqual({ load: 0, sessionCount: 1, unknownCount: 1 });
    expect(weeks[1]?.days[6]?.heldMs).toBe(5_000);
    expect(weeks[2]?.sessionCount).toBe(0);
  });
});

describe('a timing over a reload', () => {
  const entry = {
    entryId: 'e1',
    athleteId: 'mira',
    startedWallAtMs: 1,
    place: '',
    effort: 'easy',
    comfort: null,
    note: '',
    kind: 'apneaWalk',
    buddyName: null,
    rounds: 1,
    maximal: false,
    lengthSeconds: 20,
    steps: null,
  } as const;
  const storage = () => {
    const items = new Map<string, string>();
    return {
      items,
      getItem: (key: string) => items.get(key) ?? null,
      setItem: (key: string, value: string) => void items.set(key, value),
      removeItem: (key: string) => void items.delete(key),
    };
  };
  test('comes back as it was, and not after it was put away', () => {
    const kept = storage();
    const timing = tapTiming({ kind: 'apneaWalk', startedWallAtMs: 0, tapsMs: [] }, 1_790_000_000_000);
    keepTiming(kept, { entry, timing });
    expect(readTiming(kept)).toEqual({ entry, timing });
    forgetTiming(kept);
    expect(readTiming(kept)).toBeNull();
  });
  test('goes with its athlete, and only with them', () => {
    const kept = storage();
    keepTiming(kept, { entry, timing: { kind: 'apneaWalk', startedWallAtMs: 1, tapsMs: [0] } });
    forgetTimingOf(kept, `not ${entry.athleteId}`);
    expect(readTiming(kept)?.entry).toEqual(entry);
    forgetTimingOf(kept, entry.athleteId);
    expect(kept.items.size).toBe(0);
  });
  test.each(['', 'null', '{}', '{"entry":{},"timing":{"kind":"apneaWalk","tapsMs":[0]}}', '[1'])(
    'what cannot be read is nothing: %s',
    (text) => {
      const kept = storage();
      kept.items.set('slackwater.timing', text);
      expect(readTiming(kept)).toBeNull();
    },
  );
  test('a browser that keeps nothing is no reason to fail', () => {
    const refusing = {
      getItem: () => {
        throw new Error('forbidden');
      },
      setItem: () => {
        throw new Error('full');
      },
      removeItem: () => {
        throw new Error('forbidden');
      },
    };
    expect(readTiming(refusing)).toBeNull();
    expect(() => {
      keepTiming(refusing, { entry, timing: { kind: 'apneaWalk', startedWallAtMs: 1, tapsMs: [0] } });
      forgetTiming(refusing);
    }).not.toThrow();
  });
});
