// Which alarm conditions are present, read off what has been seen. One function, no memory of its own.

import type { AlarmPriority } from '../../shared/schema-parts.ts';
import type { Forecast } from '../oxygen/forecast.ts';
import type { AlarmFacts } from './alarm.ts';
import { alarmLimits as limits } from './alarm-limits.ts';
import {
  type AlarmMonitor,
  breachedOximeters,
  isBreathingBorneOut,
  isOverMaximum,
  isPulseRead,
  isSaturationGrave,
  isSaturationNeverRead,
  isVigilant,
  lowestNowPercent,
  recoveredPercent,
  sceneOf,
} from './alarm-monitor.ts';
import { oximeterFaults } from './oximeter-faults.ts';
import { decidingFloor, type OximeterWatch } from './oximeter-watch.ts';
import { breathingFault, heartRateFault, linkOf } from './supply-watch.ts';

/** One condition that is present now. `key` names it over time: its kind and priority may change while it lasts. */
export interface AlarmCondition extends AlarmFacts {
  readonly key: string;
  readonly priority: AlarmPriority;
  readonly latching?: boolean;
  /** Rises as the condition gets worse; each rise sounds again. */
  readonly level?: number;
  readonly value?: number;
}

/** The condition that an alarm is of. */
export function keyOfAlarm({ kind, subject, sensorId }: AlarmFacts): string {
  if (kind === 'batteryLow') return `batteryLow:${sensorId ?? ''}`;
  // What is wrong with a sensor changes its kind while it lasts.
  const isFault =
    kind === 'sensorLost' ||
    kind === 'signalPoor' ||
    kind === 'readingsStale' ||
    kind === 'readingsFrozen' ||
    kind === 'readingsImplausible';
  if (!isFault) return kind;
  if (subject === 'breathingSensor') return `breathing:${sensorId ?? ''}`;
  return subject === 'heartRateSensor' ? 'heartRate' : `oximeter:${sensorId ?? ''}`;
}

/** Kinds that stay until a person has seen them, though their condition has passed. */
export const isLatching = (kind: AlarmFacts['kind']): boolean =>
  kind === 'floorBreached' || kind === 'heartRateSuddenFall';

/** Every condition present. */
export function conditionsOf(m: AlarmMonitor): readonly AlarmCondition[] {
  const present: AlarmCondition[] = [];
  const holding = m.holdStartedAtMs !== null;
  const vigilant = isVigilant(m);
  const floorPercent = m.settings.floorSpo2Percent;

  const floor = floorCondition(m);
  if (floor !== null) present.push(floor);

  // Below the floor there is nothing left to forecast: what has happened is told, not what is about to.
  if (m.forecastAlarming && m.settings.forecastAlarm !== 'off' && floor === null)
    present.push(forecastCondition(m.forecast, m.settings.forecastAlarm, floorPercent));

  addHeartRateConditions(present, m, vigilant);

  const lowestPercent = lowestNowPercent(m);
  const sinceEndMs = m.holdEndedAtMs === null ? Number.NaN : m.nowMs - m.holdEndedAtMs;
  if (
    !holding &&
    !m.recoveryAnswered &&
    sinceEndMs >= limits.recoveryMs &&
    sinceEndMs <= limits.recoveryWatchMs &&
    lowestPercent !== null &&
    lowestPercent < recoveredPercent(m)
  ) {
    present.push({
      key: 'saturationNotRecovering',
      kind: 'saturationNotRecovering',
      priority: lowestPercent < floorPercent ? 'high' : 'medium',
      value: lowestPercent,
      limit: recoveredPercent(m),
    });
  }

  const noBreathing = noBreathingCondition(m);
  if (noBreathing !== null) present.push(noBreathing);

  const oximeterFaultsNow = oximeterFaults(sceneOf(m));
  for (let i = 0; i < oximeterFaultsNow.length; i++) {
    const fault = oximeterFaultsNow[i]!;
    present.push({ key: `oximeter:${fault.sensorId ?? ''}`, ...fault });
  }
  // A fault that stands says more exactly why nothing was read: one cause is told once.
  if (oximeterFaultsNow.length === 0 && isSaturationNeverRead(m)) {
    present.push({
      key: 'saturationNeverRead',
      kind: 'saturationNeverRead',
      priority: holding ? 'medium' : 'low',
      subject: 'oximeter',
    });
  }
  const heartRate = heartRateFault(m.heartRateSupply, m.links, m.nowMs, vigilant && !isPulseRead(m));
  if (heartRate !== null) present.push({ key: 'heartRate', ...heartRate });
  addBreathingFaults(present, m);

  if (m.outputsKnown && m.noOutputSinceMs !== null && m.nowMs - m.noOutputSinceMs >= limits.noOutputMs) {
    present.push({
      key: 'pageUnresponsive',
      kind: 'pageUnresponsive',
      // With a page on a screen somebody can still see: prompt, not immediate. With none, nobody would know.
      priority: !vigilant ? 'low' : m.livingPageCount > 0 ? 'medium' : 'high',
      detail: m.livingPageCount > 0 ? 'noSound' : 'noPage',
    });
  }

  for (let i = 0; i < m.batteries.length; i++) {
    const battery = m.batteries[i]!;
    if (battery.percent > limits.batteryLowPercent) continue;
    present.push({
      key: `batteryLow:${battery.sensorId}`,
      kind: 'batteryLow',
      priority: battery.percent <= limits.batteryEndingPercent ? 'medium' : 'low',
      value: battery.percent,
      subject: 'sensor',
      sensorId: battery.sensorId,
    });
  }

  if (isOverMaximum(m)) {
    present.push({
      key: 'maxDuration',
      kind: 'maxDuration',
      priority: 'medium',
      value: m.nowMs - m.holdStartedAtMs!,
      limit: m.settings.maxHoldDurationMs!,
    });
  }
  return present;
}

/** Both written out, because a spread of what is there costs most of a step's time while the alarm stands. */
function forecastCondition(
  forecast: Forecast | null,
  priority: AlarmPriority,
  limit: number,
): AlarmCondition {
  if (forecast?.known !== true) return { key: 'floorForecast', kind: 'floorForecast', priority, limit };
  const { percent, lowPercent, highPercent } = forecast.lowestIfStoppedNow;
  return {
    key: 'floorForecast',
    kind: 'floorForecast',
    priority,
    limit,
    value: percent,
    likely: { lowPercent, highPercent },
    ...(forecast.onlyIfEmptied && { detail: 'lungsUnsaid' }),
  };
}

/**
 * Each breathing sensor by itself, named where there are several. One that was taken off well before the hold is not missed
 * in it: holds are found without it.
 */
function addBreathingFaults(present: AlarmCondition[], m: AlarmMonitor): void {
  const { breathingSensors, links, nowMs, holdStartedAtMs } = m;
  for (let i = 0; i < breathingSensors.length; i++) {
    const { sensorId, supply } = breathingSensors[i]!;
    const wasInUse =
      holdStartedAtMs !== null &&
      (supply.usableAtMs ?? Number.NEGATIVE_INFINITY) >= holdStartedAtMs - limits.supersededMs;
    const link = linkOf(links, sensorId);
    const fault = breathingFault(supply, link?.connected === false, nowMs, wasInUse);
    if (fault === null) continue;
    const isNamed = breathingSensors.length > 1;
    present.push({
      key: `breathing:${isNamed ? sensorId : ''}`,
      ...fault,
      ...(isNamed && { sensorId }),
    });
  }
}

/** Of the heart rate itself; what is wrong with its sensor is told elsewhere. */
function addHeartRateConditions(present: AlarmCondition[], m: AlarmMonitor, vigilant: boolean): void {
  if (m.heartRate.fallenFromBpm !== null) {
    present.push({
      key: 'heartRateSuddenFall',
      kind: 'heartRateSuddenFall',
      priority: 'high',
      latching: isLatching('heartRateSuddenFall'),
      ...valueIfAny(m.lastHeartRateBpm),
    });
  }
  if (m.heartRate.low && m.settings.heartRateLowBpm !== null) {
    present.push({
      key: 'heartRateLow',
      kind: 'heartRateLow',
      priority: vigilant ? 'high' : 'medium',
      limit: m.settings.heartRateLowBpm,
      ...valueIfAny(m.lastHeartRateBpm),
    });
  }
  if (m.heartRate.high && m.settings.heartRateHighBpm !== null) {
    present.push({
      key: 'heartRateHigh',
      kind: 'heartRateHigh',
      priority: 'medium',
      limit: m.settings.heartRateHighBpm,
      ...valueIfAny(m.lastHeartRateBpm),
    });
  }
}

/**
 * Nobody has breathed since the alarm to stop. Whoever only holds on is asked to answer first: words of rescue to somebody
 * who is well teach everyone to pass over them. They come at once where saturation is low, unknown or falls faster than a
 * hold explains, and where no answer comes. A hold that is probably over is the other side of the same question: with
 * saturation well above the floor it is answered, and nothing is asked until either ceases to be so. Where saturation does not bear
 * it out, it is not said that there was no sign of breathing, but what is not known; how urgent it is stays as it was.
 * It follows a forecast of lungs that nobody said like any other: of people who heed the question alone more keep the floor by it
 * (tests/bench/README.md).
 */
function noBreathingCondition(m: AlarmMonitor): AlarmCondition | null {
  if (m.abortSinceMs === null) return null;
  const sinceAlarmMs = m.nowMs - m.abortSinceMs;
  if (sinceAlarmMs < limits.noBreathingMs || isBreathingBorneOut(m)) return null;
  if (isSaturationGrave(m)) return rescueCondition(m, sinceAlarmMs);
  // An answer is good for as long as the first asking took.
  const sinceAnswerMs = m.nowMs - Math.max(m.abortSinceMs, m.answeredAtMs ?? m.abortSinceMs);
  if (sinceAnswerMs < limits.noBreathingMs) return null;
  if (sinceAnswerMs >= limits.noBreathingMs + limits.answerWithinMs) return rescueCondition(m, sinceAlarmMs);
  return {
    key: 'noBreathingSign',
    kind: 'noBreathingSign',
    priority: 'high',
    level: 0,
    value: sinceAlarmMs,
    detail: 'answerAsked',
  };
}

const rescueCondition = (m: AlarmMonitor, value: number): AlarmCondition => ({
  key: 'noBreathingSign',
  kind: 'noBreathingSign',
  priority: 'high',
  level: 1,
  value,
  ...(m.probablyOver && { detail: 'breathingUnsure' as const }),
});

const readOf = (oximeter: OximeterWatch, floorPercent: number): number =>
  decidingFloor(oximeter).last?.percent ?? floorPercent;

/** One for the athlete, however many oximeters see it: the lowest decides. */
function floorCondition(m: AlarmMonitor): AlarmCondition | null {
  const breached = breachedOximeters(m);
  if (breached.length === 0) return null;
  const floorPercent = m.settings.floorSpo2Percent;
  let worst = breached[0]!;
  for (let i = 1; i < breached.length; i++) {
    const oximeter = breached[i]!;
    if (readOf(oximeter, floorPercent) < readOf(worst, floorPercent)) worst = oximeter;
  }
  const { confirmedPercent, doubt } = decidingFloor(worst);
  return {
    key: 'floorBreached',
    kind: 'floorBreached',
    priority: 'high',
    latching: isLatching('floorBreached'),
    level: Math.max(
      0,
      Math.floor(
        (floorPercent - (confirmedPercent ?? readOf(worst, floorPercent))) / limits.deepeningStepPercent,
      ),
    ),
    value: readOf(worst, floorPercent),
    limit: floorPercent,
    ...(m.oximeters.length > 1 && { sensorId: worst.sensorId }),
    ...(doubt !== null && { detail: doubt }),
  };
}

function valueIfAny(value: number | null): { readonly value?: number } {
  return value === null ? {} : { value };
}
