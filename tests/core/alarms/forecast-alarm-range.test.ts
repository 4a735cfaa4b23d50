// The forecast alarm comes by risk: the lowest reading to be expected can lie above the floor, but the range said beside it reaches down
// to the floor for as long as the alarm is due.

import { expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { populationOxygen } from '../../../src/oxygen/oxygen-parameters.ts';
import { StoreModel } from '../../../src/oxygen/store-model.ts';
import { createPipeline } from '../../../src/pipeline.ts';
import { settingsWithFloor } from '../../support/scoring/judge-session.ts';

const restS = 90;
const holdS = 230;

test.each([
  ['average lungs', 88, {}],
  ['average lungs, a high floor', 92, {}],
  ['small lungs', 85, { lungVolumeL: 3.5 }],
  ['a long way to the finger', 88, { lagS: 34 }],
] as const)('%s, floor %d %%', (_, floorPercent, changes) => {
  const model = new StoreModel({ ...populationOxygen.parameters, ...changes });
  const pipeline = createPipeline(settingsWithFloor(floorPercent));
  let due = 0;
  for (let second = 0; second < restS + holdS; second++) {
    const atMs = monotonicMs(second * 1_000);
    if (second === restS) pipeline.push({ type: 'mark', mark: { markId: 'start', kind: 'holdStart', atMs } });
    const value = Math.round(model.step(second >= restS).readingPercent);
    pipeline.push({
      type: 'sample',
      sample: { channel: 'spo2Percent', atMs, value, sensorId: 'oximeter', quality: 'good', reasons: [] },
    });
    pipeline.push({ type: 'advance', atMs });
    const { alarms, forecast } = pipeline.state;
    const isDue = alarms.some(({ kind, conditionPresent }) => kind === 'floorForecast' && conditionPresent);
    if (!isDue || forecast?.known !== true) continue;
    due++;
    // Half a point is the alarm's own hold-off before it goes.
    expect(forecast.lowestIfStoppedNow.lowPercent).toBeLessThan(floorPercent + 0.5);
    expect(forecast.lowestIfStoppedNow.lowPercent).toBeLessThanOrEqual(forecast.lowestIfStoppedNow.percent);
  }
  expect(due).toBeGreaterThan(3);
});
