// From the hub's own values to the shapes the store keeps. Absence becomes null here, at the edge of JSON.

import type { MonotonicMs } from '../../shared/units.ts';
import type { HoldFeeling, MarkView } from '../../shared/views.ts';
import { alarmTextInEnglish } from '../../shared/words/en-alarms.ts';
import type { ActiveAlarm } from '../../src/alarms/alarm.ts';
import type { Boundary, Hold } from '../../src/holds/hold.ts';
import type { LiveHold } from '../../src/pipeline.ts';
import type { Sample } from '../../src/samples/sample.ts';
import type { StoredAlarm, StoredHold, StoredMark } from '../base/ports/stored-session.ts';

type KeptHold = StoredHold['hold'];

export function toStoredReading(sample: Sample | undefined): KeptHold['lowestSpo2'] {
  if (sample === undefined) return null;
  const { value, atMs, quality, reasons, sensorId } = sample;
  return { value, atMs, quality, reasons: [...reasons], sensorId };
}

const toStoredBoundary = (boundary: Boundary): KeptHold['start'] => ({
  ...boundary,
  evidence: [...boundary.evidence],
});

/** A hold as it is kept; `lowestSpo2` is what has been read of it so far. */
export function toKeptHold(hold: Hold, lowestSpo2: Sample | undefined): KeptHold {
  return {
    holdId: hold.holdId,
    start: toStoredBoundary(hold.start),
    end: hold.end === undefined ? null : toStoredBoundary(hold.end),
    ...(hold.probableEnd !== undefined && { probableEnd: toStoredBoundary(hold.probableEnd) }),
    contractionCount: hold.contractionsAtMs.length,
    firstContractionAtMs: hold.contractionsAtMs[0] ?? null,
    lowestSpo2: toStoredReading(lowestSpo2),
    ...(hold.confidence !== undefined && { confidence: hold.confidence }),
    ...(hold.proposed === true && { isProposed: true }),
  };
}

export function toStoredHold(
  athleteId: string,
  { hold, lowestSpo2, feeling }: LiveHold & { readonly feeling?: HoldFeeling },
): StoredHold {
  const kept = toKeptHold(hold, lowestSpo2);
  return { athleteId, hold: feeling === undefined ? kept : { ...kept, feeling }, withdrawn: false };
}

/** An alarm as it stands, or as it ended, with its words. */
export function toKeptAlarm(alarm: ActiveAlarm): StoredAlarm['alarm'] {
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
    ...alarmTextInEnglish(alarm),
  };
}

export const toStoredAlarm = (athleteId: string, alarm: ActiveAlarm): StoredAlarm => ({
  athleteId,
  alarm: toKeptAlarm(alarm),
  clearedAtMs: null,
});

export function toStoredMark(
  mark: Omit<MarkView, 'text'> & { readonly text: string | undefined; readonly saidAtMs: MonotonicMs },
  removedAtMs: MonotonicMs | undefined,
): StoredMark {
  const { saidAtMs, text, ...kept } = mark;
  return {
    mark: { ...kept, text: text ?? null },
    removed: removedAtMs !== undefined,
    saidAtMs,
    ...(removedAtMs !== undefined && { removedAtMs }),
  };
}
