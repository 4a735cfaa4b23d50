// How full the lungs are, through plans: old files read as before, steps carry it, the preview and the check heed it.

import { expect, test, vi } from 'vitest';
import type { HoldLungs } from '../../../shared/schema-parts.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import { populationPrior } from '../../../src/oxygen/athlete-prior.ts';
import { populationOxygen } from '../../../src/oxygen/oxygen-parameters.ts';
import { oxygenOf } from '../../../src/oxygen/trait-values.ts';
import { checkPlan } from '../../../src/plans/check-plan.ts';
import { describePlan } from '../../../src/plans/describe-plan.ts';
import { makeIntervalSeries, makeMaximalAttempts } from '../../../src/plans/generate-plan.ts';
import { type PlanEffect, previewPlanEffect } from '../../../src/plans/plan-effect.ts';
import { parsePlanFile, writePlanFile } from '../../../src/plans/plan-file.ts';
import { planSteps } from '../../../src/plans/plan-steps.ts';
import { carbonDioxideTableOf } from '../../support/usual-plans.ts';

// Heavy arithmetic, no waiting: a busy machine must not fail it.
vi.setConfig({ testTimeout: 60_000 });

const series = (lungs?: HoldLungs, ceilingSeconds = 60) => ({
  ...makeIntervalSeries(3),
  ceilingSeconds,
  ...(lungs !== undefined && { lungs }),
});

function effectOf(lungs?: HoldLungs, athlete = populationOxygen, ceilingSeconds = 60): PlanEffect {
  const effect = previewPlanEffect(series(lungs, ceilingSeconds), athlete, 88, null);
  if (typeof effect === 'string') throw new Error(effect);
  return effect;
}

test('plans without lungs read as before; with them they are written and read back, and steps carry them', () => {
  for (const plan of [makeIntervalSeries(), carbonDioxideTableOf(180), makeMaximalAttempts(180)]) {
    expect(writePlanFile(plan)).not.toContain('lungs');
    expect(planSteps(plan).every(({ lungs }) => lungs === null)).toBe(true);
  }
  const table = carbonDioxideTableOf(180);
  const rows = table.rows.map((row, index) => (index === 1 ? { ...row, lungs: 'emptied' as const } : row));
  for (const plan of [
    series('half'),
    { ...table, rows },
    { ...makeMaximalAttempts(180), lungs: 'full' as const },
  ])
    expect(parsePlanFile(writePlanFile(plan))).toEqual({ ok: true, value: plan });
  expect(planSteps({ ...table, rows }).map(({ lungs }) => lungs)).toEqual(
    rows.map((_, index) => (index === 1 ? 'emptied' : null)),
  );
  expect(sayInEnglish(describePlan(series('emptied')).rows[0]!.effort)).toBe('up to 1:00, emptied lungs');
  expect(parsePlanFile(writePlanFile(series('half')).replace('"half"', '"brimful"')).ok).toBe(false);
});

test('the emptier the lungs, the lower the preview; not said is as full for a person of whom nothing is known', () => {
  const lowest = (lungs?: HoldLungs): number => effectOf(lungs).steps[0]!.hold.lowestReadingPercent.middle;
  expect(lowest('half')).toBeLessThan(lowest('full') - 0.5);
  expect(lowest('emptied')).toBeLessThan(lowest('half') - 5);
  expect(effectOf()).toEqual({ ...effectOf('full'), lowest: { ...effectOf('full').lowest, foresights: [] } });
});

test('a plan on emptied lungs is told that the display is too late; longer than it allows needs a choice', () => {
  const warningOf = (lungs: HoldLungs, ceilingSeconds: number) =>
    checkPlan(series(lungs, ceilingSeconds), effectOf(lungs, populationOxygen, ceilingSeconds).lowest).find(
      ({ code }) => code === 'displayTooLate',
    );
  const warning = warningOf('emptied', 60)!;
  expect(warning.needsChoice).toBe(true);
  expect(sayInEnglish(warning.said)).toMatch(/^On emptied lungs .* too late\. Hold no longer than 0:\d\d/);
  expect(warningOf('emptied', 10)?.needsChoice).toBe(false);
  expect(warningOf('full', 60)).toBeUndefined();
});

test("bands reach down to the athlete's own lowest of such a hold, in the numbers and in the picture", () => {
  const prior = {
    ...populationPrior,
    holdCount: 2,
    holdCountByLungs: { full: 1, half: 0, emptied: 1 },
    lowestSeen: {
      full: { percent: 79, holdDurationMs: 55_000 },
      emptied: { percent: 50, holdDurationMs: 90_000 },
    },
  };
  const { preview } = effectOf('full', oxygenOf(prior));
  expect(preview.holds[0]?.lowestReadingPercent.low).toBe(79);
  expect(preview.holds[0]?.crossing).toBe('possible');
  const drawn = Math.min(...preview.points.map(({ readingPercent }) => readingPercent.low));
  expect(Math.abs(drawn - 79)).toBeLessThan(1.5);
  // A longer hold than is planned says nothing of it.
  expect(effectOf('emptied', oxygenOf(prior)).preview.holds[0]!.lowestReadingPercent.low).not.toBe(50);
});
