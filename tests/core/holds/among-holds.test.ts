// A weak hold without beats stands only beside another that stands by itself; alone in a recording it is a proposal.

import { expect, test } from 'vitest';
import { neededLogOdds } from '../../../src/holds/hold-evidence.ts';
import { saturationFitsHold } from '../../../src/holds/saturation-course.ts';
import { estimateHolds, foundIn } from '../../../src/holds/smoothing.ts';
import type { SecondRow } from '../../../src/signal/second-rows.ts';
import { alveolarAthlete } from '../../support/foreign-alveolar/alveolar-athlete.ts';
import { cleanedRows } from '../../support/scoring/cleaned-rows.ts';
import { liveThrough, type SensorKit, type SessionKind } from '../../support/scoring/living-athlete.ts';

/** SIMULATED. */
const rowsOfSession = (seed: number, kind: SessionKind, kit: SensorKit): SecondRow[] =>
  cleanedRows(liveThrough(alveolarAthlete({ seed, kind, kit }), kind, 85));

/** By what it says itself, as people who breathe throughout are judged. */
const standsAlone = (rows: readonly SecondRow[], hold: ReturnType<typeof foundIn>[number]): boolean => {
  const { stands, standsByFall = stands } = neededLogOdds[hold.kind];
  if (hold.logOdds >= stands) return true;
  return (
    hold.logOdds >= standsByFall &&
    saturationFitsHold(rows, Math.round(hold.startRow), Math.round(hold.endRow))
  );
};

test('without one that stands by itself nothing is declared; beside one, some are that would not be alone', () => {
  let [amongHolds, withoutAny] = [0, 0];
  for (const [seed, kind, kit] of [
    [1_112, 'table', 'heart rate and oximetry'],
    [2_033, 'beginner', 'oximetry only'],
    [2_152, 'noHolds', 'heart rate and oximetry'],
  ] as const) {
    const rows = rowsOfSession(seed, kind, kit);
    const alone = foundIn(rows).filter((hold) => standsAlone(rows, hold)).length;
    const holds = estimateHolds(rows);
    const declared = holds.filter(({ proposed }) => !proposed).length;
    expect(declared).toBeGreaterThanOrEqual(alone);
    if (alone > 0 && declared > alone) amongHolds++;
    if (alone > 0) continue;
    expect(declared).toBe(0);
    if (holds.length > 0) withoutAny++;
  }
  expect([amongHolds, withoutAny].map((count) => count > 0)).toEqual([true, true]);
});
