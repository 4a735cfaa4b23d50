// The product's forecaster asked about planned holds (SIMULATED), without detector and alarm engine: when did it advise to stop?

import { monotonicMs } from '../../../shared/units.ts';
import type { AthletePrior } from '../../../src/oxygen/athlete-prior.ts';
import { createForecaster } from '../../../src/oxygen/forecaster.ts';
import type { PlannedSession } from './planned-holds.ts';

export interface Asked {
  /** Seconds into each hold; undefined where it never advised. */
  readonly advisedS: readonly (number | undefined)[];
  /** What is known of the athlete afterwards. */
  readonly prior: AthletePrior;
}

/** Starts are marked. */
export function askForecaster(session: PlannedSession, saysLungs: boolean, prior?: AthletePrior): Asked {
  const forecaster = createForecaster({
    floorSpo2Percent: session.floorPercent,
    ...(prior !== undefined && { prior }),
  });
  let next = 0;
  const feed = (untilS: number, each: (atS: number) => void = () => {}): void => {
    for (; next < session.readings.length && session.readings[next]!.atS < untilS; next++) {
      const { atS, percent } = session.readings[next]!;
      forecaster.push({ type: 'spo2', atMs: ms(atS), spo2Percent: percent, quality: 'good' });
      each(atS);
    }
  };
  const advisedS = session.holds.map(({ startS, endS, lungs }) => {
    feed(startS);
    const atMs = ms(startS);
    if (saysLungs) forecaster.push({ type: 'lungs', atMs, lungs });
    forecaster.push({ type: 'holdStarted', atMs, start: { atMs, uncertaintyMs: 0 } });
    let advised: number | undefined;
    feed(endS, (atS) => {
      const { forecast } = forecaster;
      if (forecast.known && forecast.stopAdvised) advised ??= atS - startS;
    });
    forecaster.push({ type: 'holdEnded', atMs: ms(endS), endedAtMs: ms(endS) });
    return advised;
  });
  feed(Number.POSITIVE_INFINITY);
  return { advisedS, prior: forecaster.prior };
}

const ms = (seconds: number) => monotonicMs(Math.round(seconds * 1_000));
