// Forecast and floor alarms of a session against what its oximeter read: needless, false, and missing ones.

import type { Sample } from '../../../src/samples/sample.ts';
import type { DerivedAlarm } from '../../../src/sessions/derive-recording.ts';
import type { ScoredSession } from './scored-session.ts';

export interface AlarmTally {
  readonly forecast: number;
  /** No reading below the floor from 10 s before it to 90 s after it. */
  readonly needlessForecast: number;
  readonly floor: number;
  /** No 3 s of readings below the floor in the 20 s before it. */
  readonly falseFloor: number;
  /** Stretches of 3 s and more in which every reading lay below the floor, at least 10 s apart. */
  readonly lowStretches: number;
  /** Of these, without a floor alarm standing 5 s after they began. */
  readonly missedLowStretches: number;
  readonly ofOtherKinds: Readonly<Record<string, number>>;
}

/** A floor alarm is promised within 3 s; 2 s more for readings that come once a second. */
const promisedWithinMs = 5_000;

interface Stretch {
  readonly fromMs: number;
  toMs: number;
}

/** Stretches of readings below the floor, joined over gaps of up to 2.5 s. */
function stretchesBelow(readings: readonly Sample[], floorPercent: number): Stretch[] {
  const stretches: Stretch[] = [];
  let open: Stretch | undefined;
  for (const { atMs, value } of readings) {
    if (value >= floorPercent) open = undefined;
    else if (open !== undefined && atMs - open.toMs <= 2_500) open.toMs = atMs;
    else {
      open = { fromMs: atMs, toMs: atMs };
      stretches.push(open);
    }
  }
  return stretches.filter(({ fromMs, toMs }) => toMs - fromMs >= 3_000);
}

export function tallyAlarms(
  alarms: readonly Pick<DerivedAlarm, 'kind' | 'raisedAtMs' | 'clearedAtMs'>[],
  samples: readonly Sample[],
  { floorPercent }: Pick<ScoredSession, 'floorPercent'>,
): AlarmTally {
  const readings = samples.filter((s) => s.channel === 'spo2Percent' && s.value > 0);
  const below = readings.filter((s) => s.value < floorPercent);
  const stretches = stretchesBelow(readings, floorPercent);
  const separate = stretches.filter((s, i) => i === 0 || s.fromMs - stretches[i - 1]!.toMs > 10_000);
  const floor = alarms.filter((alarm) => alarm.kind === 'floorBreached');
  const forecast = alarms.filter((alarm) => alarm.kind === 'floorForecast');
  const ofOtherKinds: Record<string, number> = {};
  for (const { kind } of alarms)
    if (kind !== 'floorBreached' && kind !== 'floorForecast')
      ofOtherKinds[kind] = (ofOtherKinds[kind] ?? 0) + 1;
  return {
    forecast: forecast.length,
    needlessForecast: forecast.filter(
      ({ raisedAtMs }) => !below.some((s) => s.atMs >= raisedAtMs - 10_000 && s.atMs <= raisedAtMs + 90_000),
    ).length,
    floor: floor.length,
    falseFloor: floor.filter(
      ({ raisedAtMs }) =>
        !stretches.some((s) => s.fromMs <= raisedAtMs + 500 && s.toMs >= raisedAtMs - 20_000),
    ).length,
    lowStretches: separate.length,
    missedLowStretches: separate.filter(
      (s) =>
        !floor.some(
          (alarm) => alarm.raisedAtMs <= s.fromMs + promisedWithinMs && alarm.clearedAtMs >= s.fromMs,
        ),
    ).length,
    ofOtherKinds,
  };
}
