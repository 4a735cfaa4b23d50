// Fits an athlete from earlier recordings: the same filter as live, run over their holds one after the other.

import type { SampleQuality } from '../../shared/schema-parts.ts';
import { monotonicMs } from '../../shared/units.ts';
import { type AthletePrior, populationPrior } from './athlete-prior.ts';
import { createForecaster } from './forecaster.ts';

/** One recorded hold with the readings from a minute before its start to at least a minute after its end. */
export interface RecordedHold {
  readonly startMs: number;
  /** One standard deviation of the start; 0 for a mark. */
  readonly startUncertaintyMs: number;
  readonly endMs: number;
  readonly readings: readonly {
    readonly atMs: number;
    readonly spo2Percent: number;
    readonly quality: SampleQuality;
  }[];
}

/**
 * What these holds teach about lag, rate and lung store, beginning from `prior`. Holds and readings in order of time;
 * a hold of less than 15 s or 20 readings teaches nothing.
 */
export function fitAthlete(
  holds: readonly RecordedHold[],
  prior: AthletePrior = populationPrior,
): AthletePrior {
  let known = prior;
  for (const hold of holds) {
    // Each hold on a forecaster of its own: holds of different sessions have no common time.
    const forecaster = createForecaster({ prior: known });
    let begun = false;
    let ended = false;
    for (const reading of hold.readings) {
      if (!begun && reading.atMs >= hold.startMs) {
        begun = true;
        const start = { atMs: monotonicMs(hold.startMs), uncertaintyMs: hold.startUncertaintyMs };
        forecaster.push({ type: 'holdStarted', atMs: monotonicMs(hold.startMs), start });
      }
      if (begun && !ended && reading.atMs >= hold.endMs) {
        ended = true;
        const endedAtMs = monotonicMs(hold.endMs);
        forecaster.push({ type: 'holdEnded', atMs: endedAtMs, endedAtMs });
      }
      forecaster.push({
        type: 'spo2',
        atMs: monotonicMs(reading.atMs),
        spo2Percent: reading.spo2Percent,
        quality: reading.quality,
      });
    }
    if (ended) forecaster.push({ type: 'advance', atMs: monotonicMs(hold.endMs + 120_000) });
    known = forecaster.prior;
  }
  return known;
}
