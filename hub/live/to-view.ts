// From the core's values to the shapes a page sees. Pure; absence becomes null here, at the edge of the wire.

import { percent } from '../../shared/units.ts';
import type { AlarmView, ForecastView, HoldView, Readout } from '../../shared/views.ts';
import type { ActiveAlarm } from '../../src/alarms/alarm.ts';
import type { Boundary, Hold } from '../../src/holds/hold.ts';
import type { Forecast } from '../../src/oxygen/forecast.ts';
import type { LiveHold } from '../../src/pipeline.ts';
import type { Sample } from '../../src/samples/sample.ts';

export function toReadout(sample: Sample | undefined): Readout {
  if (sample === undefined) return null;
  const { value, atMs, quality, reasons, sensorId } = sample;
  return { value, atMs, quality, reasons: [...reasons], sensorId };
}

function toBoundaryView(boundary: Boundary): HoldView['start'] {
  return { ...boundary, evidence: [...boundary.evidence] };
}

/** A hold for the page; `lowestSpo2` is what has been read of it so far. */
export function toHoldView(hold: Hold, lowestSpo2: Sample | undefined): HoldView {
  return {
    holdId: hold.holdId,
    start: toBoundaryView(hold.start),
    end: hold.end === undefined ? null : toBoundaryView(hold.end),
    contractionCount: hold.contractionsAtMs.length,
    firstContractionAtMs: hold.contractionsAtMs[0] ?? null,
    lowestSpo2: toReadout(lowestSpo2),
    ...(hold.confidence !== undefined && { confidence: hold.confidence }),
    ...(hold.proposed === true && { isProposed: true }),
  };
}

export const toLiveHoldView = (live: LiveHold): HoldView => toHoldView(live.hold, live.lowestSpo2);

export function toAlarmView(alarm: ActiveAlarm): AlarmView {
  return { ...alarm, value: alarm.value ?? null };
}

const clampPercent = (value: number) => percent(Math.min(100, Math.max(0, value)));

export function toForecastView(forecast: Forecast): ForecastView {
  if (!forecast.known) return { known: false, lowestIfStoppedNow: null, secondsToStop: null };
  const { lowestIfStoppedNow: lowest, secondsToStop } = forecast;
  return {
    known: true,
    lowestIfStoppedNow: {
      percent: clampPercent(lowest.percent),
      lowPercent: clampPercent(lowest.lowPercent),
      highPercent: clampPercent(lowest.highPercent),
    },
    secondsToStop: { ...secondsToStop },
  };
}
