// Corrections over estimated holds: each kind, undoing, and what no sequence of them can break.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type MonotonicMs, monotonicMs } from '../../../shared/units.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import type { Boundary, Hold } from '../../../src/holds/hold.ts';
import {
  addedHoldId,
  applyCorrections,
  type HoldCorrection,
  refuseCorrection,
} from '../../../src/sessions/apply-corrections.ts';
import { type CorrectionStep, correctionsInForce } from '../../../src/sessions/correction-steps.ts';

const at = (atMs: number): MonotonicMs => monotonicMs(atMs);
const estimated = (atMs: number): Boundary => ({
  atMs: at(atMs),
  uncertaintyMs: 1_500,
  declaredAtMs: at(atMs + 4_000),
  source: 'detected',
  evidence: ['heart rate'],
});
const hold = (holdId: string, startMs: number, endMs: number | null, contractions: number[] = []): Hold => ({
  holdId,
  start: estimated(startMs),
  ...(endMs !== null && { end: estimated(endMs) }),
  contractionsAtMs: contractions.map(at),
});
const holds = [hold('a', 10_000, 60_000, [50_000]), hold('b', 100_000, 160_000), hold('c', 200_000, null)];
const durationMs = 300_000;
let made = 0;
const step = (
  correction: CorrectionStep['correction'],
  span: CorrectionStep['estimated'] = null,
): CorrectionStep => {
  made += 1;
  return { correctionId: `s${made}`, madeWallAtMs: made, correction, estimated: span };
};
const move = (holdId: string, boundary: 'start' | 'end', atMs: number): HoldCorrection => ({
  type: 'moveBoundary',
  holdId,
  boundary,
  atMs: at(atMs),
});
const apply = (steps: readonly CorrectionStep[], contractions: number[] = [50_000, 70_000]) =>
  applyCorrections(holds, steps, contractions.map(at));

describe('each kind', () => {
  test('a moved boundary is certain, says what it was, and keeps when it was first said', () => {
    const { holds: corrected } = apply([step(move('a', 'end', 75_000))]);
    expect(corrected[0]).toEqual({
      holdId: 'a',
      start: holds[0]!.start,
      end: {
        atMs: 75_000,
        uncertaintyMs: 0,
        declaredAtMs: 64_000,
        source: 'corrected',
        evidence: ['movedByHand'],
      },
      contractionsAtMs: [50_000, 70_000],
    });
    expect(corrected.slice(1)).toEqual(holds.slice(1));
  });

  test('a hold without an end is given one; holds are added in their place and removed', () => {
    const add = step({ type: 'addHold', startMs: at(170_000), endMs: at(190_000) });
    const { holds: corrected } = apply([
      step(move('c', 'end', 260_000)),
      add,
      step({ type: 'removeHold', holdId: 'a' }),
    ]);
    expect(corrected.map(({ holdId, start, end }) => [holdId, start.atMs, end?.atMs])).toEqual([
      ['b', 100_000, 160_000],
      [addedHoldId(add.correctionId), 170_000, 190_000],
      ['c', 200_000, 260_000],
    ]);
    expect(corrected[1]?.start.source).toBe('corrected');
  });

  test('a hold whose id has changed is found by where it was; one that is gone is told of', () => {
    const moved = step(move('before-an-update', 'start', 12_000), { startMs: at(9_000), endMs: at(61_000) });
    const lost = step(move('never', 'start', 12_000), { startMs: at(70_000), endMs: at(80_000) });
    const result = apply([moved, lost]);
    expect(result.holds[0]).toMatchObject({ holdId: 'a', start: { atMs: 12_000 } });
    expect(result.withoutHold).toEqual([lost]);
  });
});

test('an undone step is as if never made, and an undone undo brings it back', () => {
  const first = step(move('a', 'end', 75_000));
  const undo = step({ type: 'undo', correctionId: first.correctionId });
  const redo = step({ type: 'undo', correctionId: undo.correctionId });
  expect(apply([first, undo]).holds).toEqual(holds);
  expect(correctionsInForce([first, undo, redo])).toEqual([first]);
  expect(apply([first, undo, redo]).holds[0]?.end?.atMs).toBe(75_000);
});

test.each([
  [move('a', 'start', 60_500), 'at least 1 s after'],
  [move('a', 'end', 100_001), 'overlap another'],
  [move('b', 'start', 59_000), 'overlap another'],
  [move('c', 'end', 300_001), 'inside the recording'],
  [move('nobody', 'end', 1), 'no such hold'],
  [{ type: 'addHold', startMs: at(250_000), endMs: at(260_000) }, 'overlap another'],
  [{ type: 'addHold', startMs: at(80_000), endMs: at(80_100) }, 'at least 1 s after'],
  [{ type: 'addHold', startMs: at(290_000), endMs: at(301_000) }, 'inside the recording'],
] satisfies [HoldCorrection, string][])('%j is refused: %s', (correction, reason) => {
  expect(sayInEnglish(refuseCorrection(holds, correction, durationMs)!)).toContain(reason);
});

test('whatever is accepted, holds stay in order, apart and inside; undoing all gives the estimate back', () => {
  const time = fc.integer({ min: 0, max: durationMs + 5_000 });
  const anyCorrection: fc.Arbitrary<(ids: readonly string[]) => HoldCorrection> = fc.oneof(
    fc.tuple(fc.nat(), fc.constantFrom('start' as const, 'end' as const), time).map(
      ([pick, boundary, atMs]) =>
        (ids: readonly string[]) =>
          move(ids[pick % ids.length] ?? 'none', boundary, atMs),
    ),
    fc.tuple(time, time).map(([startMs, endMs]) => () => ({
      type: 'addHold' as const,
      startMs: at(startMs),
      endMs: at(endMs),
    })),
    fc.nat().map((pick) => (ids: readonly string[]) => ({
      type: 'removeHold' as const,
      holdId: ids[pick % ids.length] ?? 'none',
    })),
  );
  fc.assert(
    fc.property(fc.array(anyCorrection, { maxLength: 25 }), (makers) => {
      const steps: CorrectionStep[] = [];
      for (const make of makers) {
        const now = apply(steps).holds;
        const correction = make(now.map(({ holdId }) => holdId));
        if (refuseCorrection(now, correction, durationMs) !== undefined) continue;
        const target =
          correction.type === 'addHold' ? undefined : now.find((h) => h.holdId === correction.holdId);
        steps.push(
          step(
            correction,
            target === undefined ? null : { startMs: target.start.atMs, endMs: target.end?.atMs ?? null },
          ),
        );
        const { holds: corrected, withoutHold } = apply(steps);
        expect(withoutHold).toEqual([]);
        let before = 0;
        for (const { start, end } of corrected) {
          expect(start.atMs).toBeGreaterThanOrEqual(before);
          before = end?.atMs ?? Number.POSITIVE_INFINITY;
          expect(before).toBeGreaterThan(start.atMs);
          if (end !== undefined) expect(end.atMs).toBeLessThanOrEqual(durationMs);
        }
      }
      for (;;) {
        const last = correctionsInForce(steps).at(-1);
        if (last === undefined) break;
        steps.push(step({ type: 'undo', correctionId: last.correctionId }));
      }
      expect(apply(steps).holds).toEqual(holds);
    }),
  );
});
