// The live forecaster's place in the pipeline: what it is fed and that it answers with a Forecast.

import type { SampleQuality } from '../../shared/schema-parts.ts';
import type { MonotonicMs } from '../../shared/units.ts';
import type { Boundary } from '../holds/hold.ts';
import type { Forecast } from './forecast.ts';

/** In time order, but for samples a little late. The floor comes with `settings`. */
export type ForecasterEvent =
  | {
      readonly type: 'spo2';
      readonly atMs: MonotonicMs;
      readonly spo2Percent: number;
      readonly quality: SampleQuality;
    }
  | {
      readonly type: 'heartRate';
      readonly atMs: MonotonicMs;
      readonly heartRateBpm: number;
      readonly quality: SampleQuality;
    }
  | { readonly type: 'holdStarted'; readonly atMs: MonotonicMs; readonly start: Boundary }
  | { readonly type: 'holdRevised'; readonly atMs: MonotonicMs; readonly start: Boundary }
  | { readonly type: 'holdEnded'; readonly atMs: MonotonicMs; readonly endedAtMs: MonotonicMs }
  | { readonly type: 'settings'; readonly atMs: MonotonicMs; readonly floorSpo2Percent: number }
  | { readonly type: 'advance'; readonly atMs: MonotonicMs };

/** Deterministic, no clock. Answers with the forecast as it now stands; the same object while it is unchanged. */
export interface Forecaster {
  push(event: ForecasterEvent): Forecast;
}

/** Knows nothing yet: every answer is 'not known'. */
export function createForecaster(_options: { readonly floorSpo2Percent: number }): Forecaster {
  const notKnown: Forecast = { known: false, reason: 'there is no oxygen model yet' };
  return { push: () => notKnown };
}
