// From the hub's own values to the shapes a page sees. Pure; absence becomes null here, at the edge of the wire.

import type { LiveState } from '../../shared/live-frame/live-frame.ts';
import { percent } from '../../shared/units.ts';
import type {
  AlarmView,
  AthleteState,
  ForecastView,
  HoldView,
  MarkView,
  Readout,
  SensorView,
  SessionView,
  ShownSensor,
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
  leaders,
  ...session
}: Session): SessionView {
  return {
    ...session,
    unwatched: [...unwatched],
    leaders: [...leaders],
    endedAtMs: endedAtMs ?? null,
    status: endedAtMs === undefined ? 'recording' : 'ended',
    athleteIds: [...athleteIds],
  };
}

const toReadout = (sample: Sample | undefined): Readout => toStoredReading(sample);

// A page is shown a hold and an alarm as they are kept; where the two part, this is the place.
export const toHoldView = (hold: SessionHold): HoldView => toStoredHold('', hold).hold;
export const toAlarmView = (alarm: ActiveAlarm): AlarmView => toKeptAlarm(alarm);

export const toMarkView = ({ saidAtMs: _saidAtMs, ...mark }: SessionMark): MarkView => ({
  ...mark,
  text: mark.text ?? null,
});

/**
 * To tenths: pages show whole ones, and draw a tenth of a percent as a third of a pixel. Seconds to stop are rounded down, so
 * that no page says more time than there is.
 */
const tenth = (value: number): number => Math.round(value * 10) / 10;
const tenthBelow = (value: number): number => Math.floor(value * 10) / 10;

const clampPercent = (value: number) => percent(tenth(Math.min(100, Math.max(0, value))));

function toForecastView(forecast: Forecast): ForecastView {
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
    secondsToStop: {
      seconds: tenthBelow(secondsToStop.seconds),
      lowSeconds: tenthBelow(secondsToStop.lowSeconds),
      highSeconds: tenthBelow(secondsToStop.highSeconds),
    },
    lungs,
  };
}

/** The part of it that changes with every reading. */
export function toLiveState(snapshot: AthleteSnapshot): LiveState {
  return {
    athleteId: snapshot.athlete.athleteId,
    atMs: snapshot.atMs,
    phase: snapshot.phase,
    spo2: toReadout(snapshot.latestSpo2),
    heartRate: toReadout(snapshot.latestHeartRate),
    forecast: toForecastView(snapshot.forecast),
  };
}

export function toAthleteState(snapshot: AthleteSnapshot): AthleteState {
  const { athleteId: _inAthlete, ...live } = toLiveState(snapshot);
  return {
    ...live,
    athlete: snapshot.athlete,
    holds: snapshot.holds.map(toHoldView),
    marks: snapshot.marks.map(toMarkView),
    alarms: snapshot.alarms.map(toAlarmView),
    sound: snapshot.sound,
  };
}

/** Without what changes with every packet and no live page shows. */
export const toShownSensor = ({
  rssiDbm: _rssi,
  lastPacketWallAtMs: _last,
  packetCount: _packets,
  discardedCount: _discarded,
  ...shown
}: SensorView): ShownSensor => shown;
