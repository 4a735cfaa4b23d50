// From the core's values to the shapes a page sees. Pure; absence becomes null here, at the edge of the wire.

import { percent } from '../../shared/units.ts';
import type { AlarmView, ForecastView, HoldView, Readout } from '../../shared/views.ts';
import type { ActiveAlarm } from '../../src/alarms/alarm.ts';
import { alarmText } from '../../src/alarms/alarm-texts.ts';
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
  };
}

export const toLiveHoldView = (live: LiveHold): HoldView => toHoldView(live.hold, live.lowestSpo2);

/** An alarm as it stands, or as it ended, with its words. */
export function toAlarmView(alarm: ActiveAlarm): AlarmView {
  return {
    alarmId: alarm.alarmId,
    kind: alarm.kind,
    priority: alarm.priority,
    highestPriority: alarm.highestPriority,
    raisedAtMs: alarm.raisedAtMs,
    conditionPresent: alarm.conditionPresent,
    timesPresent: alarm.timesPresent,
    passedAtMs: alarm.passedAtMs ?? null,
    acknowledged: alarm.acknowledged,
    acknowledgedAtMs: alarm.acknowledgedAtMs ?? null,
    acknowledgedBy: alarm.acknowledgedBy ?? null,
    value: alarm.value ?? null,
    worstValue: alarm.worstValue ?? null,
    worstAtMs: alarm.worstAtMs ?? null,
    limit: alarm.limit ?? null,
    likely: alarm.likely ?? null,
    subject: alarm.subject ?? null,
    sensorId: alarm.sensorId ?? null,
    detail: alarm.detail ?? null,
    holdNear: alarm.holdNear,
    ...alarmText(alarm),
  };
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
