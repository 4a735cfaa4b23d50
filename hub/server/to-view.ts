// From the hub's own values to the shapes a page sees. Pure; absence becomes null here, at the edge of the wire.

import { percent } from '../../shared/units.ts';
import type {
  AlarmView,
  AthleteState,
  ForecastView,
  HoldView,
  MarkView,
  Readout,
  SessionView,
} from '../../shared/views.ts';
import type { ActiveAlarm } from '../../src/alarms/alarm.ts';
import type { Forecast } from '../../src/oxygen/forecast.ts';
import { sayForesight } from '../../src/oxygen/foresight.ts';
import type { Sample } from '../../src/samples/sample.ts';
import type { Session, SessionHold, SessionMark } from '../live/live-event.ts';
import type { AthleteSnapshot } from '../live/monitored-athlete.ts';
import { toKeptAlarm, toStoredHold, toStoredReading } from '../recorder/to-stored.ts';

export function toSessionView({
  zeroMs: _zero,
  endedAtMs,
  athleteIds,
  unwatched,
  ...session
}: Session): SessionView {
  return {
    ...session,
    unwatched: [...unwatched],
    endedAtMs: endedAtMs ?? null,
    status: endedAtMs === undefined ? 'recording' : 'ended',
    athleteIds: [...athleteIds],
  };
}

export const toReadout = (sample: Sample | undefined): Readout => toStoredReading(sample);

// A page is shown a hold and an alarm as they are kept; where the two part, this is the place.
export const toHoldView = (hold: SessionHold): HoldView => toStoredHold('', hold).hold;
export const toAlarmView = (alarm: ActiveAlarm): AlarmView => toKeptAlarm(alarm);

export const toMarkView = ({ saidAtMs: _saidAtMs, ...mark }: SessionMark): MarkView => ({
  ...mark,
  text: mark.text ?? null,
});

const clampPercent = (value: number) => percent(Math.min(100, Math.max(0, value)));

export function toForecastView(forecast: Forecast): ForecastView {
  const { foresight } = forecast;
  const lungs =
    foresight === undefined ? null : { said: foresight.lungs, warning: sayForesight(foresight) ?? null };
  if (!forecast.known) return { known: false, lowestIfStoppedNow: null, secondsToStop: null, lungs };
  const { lowestIfStoppedNow: lowest, secondsToStop } = forecast;
  return {
    known: true,
    lowestIfStoppedNow: {
      percent: clampPercent(lowest.percent),
      lowPercent: clampPercent(lowest.lowPercent),
      highPercent: clampPercent(lowest.highPercent),
    },
    secondsToStop: { ...secondsToStop },
    lungs,
  };
}

export function toAthleteState(snapshot: AthleteSnapshot): AthleteState {
  return {
    athlete: snapshot.athlete,
    atMs: snapshot.atMs,
    phase: snapshot.phase,
    spo2: toReadout(snapshot.latestSpo2),
    heartRate: toReadout(snapshot.latestHeartRate),
    holds: snapshot.holds.map(toHoldView),
    marks: snapshot.marks.map(toMarkView),
    alarms: snapshot.alarms.map(toAlarmView),
    sound: snapshot.sound,
    forecast: toForecastView(snapshot.forecast),
  };
}
