// What recorded holds teach of an athlete: the live forecaster itself, given one hold after the other. For tests.

import type { HoldLungs } from '../../shared/schema-parts.ts';
import { monotonicMs } from '../../shared/units.ts';
import { type AthletePrior, populationPrior } from '../../src/oxygen/athlete-prior.ts';
import { createForecaster } from '../../src/oxygen/forecaster.ts';

export interface RecordedHold {
  readonly startMs: number;
  readonly endMs: number;
  readonly lungs?: HoldLungs;
  /** In order, from a minute before the start to at least a minute after the end. */
  readonly readings: readonly { readonly atMs: number; readonly spo2Percent: number }[];
}

export function taughtAthlete(
  holds: readonly RecordedHold[],
  prior: AthletePrior = populationPrior,
): AthletePrior {
  let known = prior;
  for (const hold of holds) {
    const forecaster = createForecaster({ prior: known });
    const startedAtMs = monotonicMs(hold.startMs);
    const endedAtMs = monotonicMs(hold.endMs);
    let begun = false;
    let ended = false;
    for (const reading of hold.readings) {
      if (!begun && reading.atMs >= hold.startMs) {
        begun = true;
        if (hold.lungs !== undefined)
          forecaster.push({ type: 'lungs', atMs: startedAtMs, lungs: hold.lungs });
        forecaster.push({
          type: 'holdStarted',
          atMs: startedAtMs,
          start: { atMs: startedAtMs, uncertaintyMs: 0 },
        });
      }
      if (begun && !ended && reading.atMs >= hold.endMs) {
        ended = true;
        forecaster.push({ type: 'holdEnded', atMs: endedAtMs, endedAtMs });
      }
      forecaster.push({
        type: 'spo2',
        atMs: monotonicMs(reading.atMs),
        spo2Percent: reading.spo2Percent,
        quality: 'good',
      });
    }
    forecaster.push({ type: 'advance', atMs: monotonicMs(hold.endMs + 120_000) });
    known = forecaster.prior;
  }
  return known;
}
