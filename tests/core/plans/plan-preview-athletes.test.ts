// Whose saturation a plan's preview shows.

import { expect, test } from 'vitest';
import { populationOxygen } from '../../../src/oxygen/oxygen-parameters.ts';
import { previewForAthletes, previewPlanEffect } from '../../../src/plans/plan-effect.ts';
import { oxygenTableOf } from '../../support/usual-plans.ts';

const plan = oxygenTableOf(240);
const small = {
  ...populationOxygen,
  parameters: {
    ...populationOxygen.parameters,
    lungVolumeL: 0.75 * populationOxygen.parameters.lungVolumeL,
    metabolicRateMlPerMin: 1.2 * populationOxygen.parameters.metabolicRateMlPerMin,
  },
  holdCount: 9,
};

test('of several it is the one who is expected to go lowest', () => {
  for (const [athletes, ofIndex] of [
    [[populationOxygen, small], 1],
    [[small, populationOxygen], 0],
  ] as const) {
    const found = previewForAthletes(plan, athletes, 88, null);
    expect(found.ofIndex).toBe(ofIndex);
    expect(found.effect).toEqual(previewPlanEffect(plan, small, 88, null));
  }
});

test('of nobody it is the population', () => {
  expect(previewForAthletes(plan, [], 88, null).effect).toEqual(
    previewPlanEffect(plan, populationOxygen, 88, null),
  );
});
