// Which alarm conditions are present, read off what has been seen. One function, no memory of its own.

import type { AlarmPriority } from '../../shared/schema-parts.ts';
import type { AlarmFacts } from './alarm.ts';
import { alarmLimits as limits } from './alarm-limits.ts';
import { type AlarmMonitor, isOverMaximum, isVigilant, recoveredPercent } from './alarm-monitor.ts';
import { unexplainedFallMs } from './floor-watch.ts';
import { heartRateFault, oximeterFault } from './supply-watch.ts';

/** One condition that is present now. `key` names it over time: its kind and priority may change while it lasts. */
export interface AlarmCondition extends AlarmFacts {
  readonly key: string;
  readonly priority: AlarmPriority;
  readonly latching?: boolean;
  /** Rises as the condition gets worse; each rise sounds again. */
  readonly level?: number;
  readonly value?: number;
}

/** Every condition present. */
export function conditionsOf(m: AlarmMonitor): readonly AlarmCondition[] {
  const present: AlarmCondition[] = [];
  const holding = m.holdStartedAtMs !== null;
  const vigilant = isVigilant(m);
  const floorPercent = m.settings.floorSpo2Percent;

  if (m.floor.breached) {
    const percent = m.floor.confirmedPercent ?? m.floor.last?.percent ?? floorPercent;
    present.push({
      key: 'floorBreached',
      kind: 'floorBreached',
      priority: 'high',
      latching: true,
      level: Math.max(0, Math.floor((floorPercent - percent) / limits.deepeningStepPercent)),
      value: m.floor.last?.percent ?? percent,
      limit: floorPercent,
    });
  }

  if (m.forecastAlarming && m.settings.forecastAlarm !== 'off') {
    present.push({
      key: 'floorForecast',
      kind: 'floorForecast',
      priority: m.settings.forecastAlarm,
      limit: floorPercent,
      ...(m.forecast?.known === true
        ? {
            value: m.forecast.lowestIfStoppedNow.percent,
            likely: {
              lowPercent: m.forecast.lowestIfStoppedNow.lowPercent,
              highPercent: m.forecast.lowestIfStoppedNow.highPercent,
            },
          }
        : {}),
    });
  }

  if (m.heartRate.fallenFromBpm !== null) {
    present.push({
      key: 'heartRateSuddenFall',
      kind: 'heartRateSuddenFall',
      priority: 'high',
      latching: true,
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

  const sinceEndMs = m.holdEndedAtMs === null ? Number.NaN : m.nowMs - m.holdEndedAtMs;
  if (
    !holding &&
    !m.recoveryAnswered &&
    sinceEndMs >= limits.recoveryMs &&
    sinceEndMs <= limits.recoveryWatchMs &&
    m.floor.last !== null &&
    m.floor.last.percent < recoveredPercent(m)
  ) {
    present.push({
      key: 'saturationNotRecovering',
      kind: 'saturationNotRecovering',
      priority: m.floor.last.percent < floorPercent ? 'high' : 'medium',
      value: m.floor.last.percent,
      limit: recoveredPercent(m),
    });
  }

  if (m.abortSinceMs !== null && m.nowMs - m.abortSinceMs >= limits.noBreathingMs) {
    present.push({
      key: 'noBreathingSign',
      kind: 'noBreathingSign',
      priority: 'high',
      value: m.nowMs - m.abortSinceMs,
    });
  }

  const heldMs = m.holdStartedAtMs === null ? 0 : m.nowMs - m.holdStartedAtMs;
  const jumpedMs = unexplainedFallMs(m.floor, m.nowMs);
  const oximeter = oximeterFault(m.oximeterSupply, m.links, m.nowMs, vigilant, heldMs);
  if (oximeter !== null) present.push({ key: 'oximeter', ...oximeter });
  else if (jumpedMs >= limits.jumpToldMs) {
    present.push({
      key: 'oximeter',
      kind: 'readingsImplausible',
      priority: !vigilant ? 'low' : jumpedMs >= limits.breachMovedMs ? 'high' : 'medium',
      subject: 'oximeter',
      value: m.floor.last?.percent ?? 0,
      detail: 'fellTooFast',
    });
  }
  const heartRate = heartRateFault(m.heartRateSupply, m.links, m.nowMs, vigilant);
  if (heartRate !== null) present.push({ key: 'heartRate', ...heartRate });

  if (m.outputsKnown && m.noOutputSinceMs !== null && m.nowMs - m.noOutputSinceMs >= limits.noOutputMs) {
    present.push({
      key: 'pageUnresponsive',
      kind: 'pageUnresponsive',
      // With a page on a screen somebody can still see: prompt, not immediate. With none, nobody would know.
      priority: !vigilant ? 'low' : m.livingPageCount > 0 ? 'medium' : 'high',
      detail: m.livingPageCount > 0 ? 'noSound' : 'noPage',
    });
  }

  for (const battery of m.batteries) {
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

function valueIfAny(value: number | null): { readonly value?: number } {
  return value === null ? {} : { value };
}
