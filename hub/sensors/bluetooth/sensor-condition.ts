// What a sensor's link comes down to for a person: one code with its numbers. The words are in `condition-texts.ts`.

import type { SensorStatus } from '../../base/ports/sensor-source.ts';
import type { LinkPolicy } from './link-policy.ts';
import type { SensorRecord } from './link-state.ts';
import { shortestGapMs, usualGapMs } from './sensor-pace.ts';
import { assigned } from './uuid.ts';

export type LockedReading = 'heartRate' | 'saturation' | 'readings';

export type SensorCondition =
  | { readonly code: 'inRange' }
  | { readonly code: 'appeared'; readonly agoS: number }
  | { readonly code: 'signalGone'; readonly forS: number }
  | { readonly code: 'notHeard'; readonly lastReason: string | null }
  | { readonly code: 'lost'; readonly reason: string | null }
  | { readonly code: 'silent'; readonly forS: number }
  | { readonly code: 'noReadings'; readonly forS: number }
  | { readonly code: 'locked' }
  | { readonly code: 'partlyLocked'; readonly what: LockedReading }
  | { readonly code: 'partlyRefused'; readonly what: LockedReading }
  | { readonly code: 'takesNoLink' }
  | { readonly code: 'advertisesSeldom'; readonly everyS: number }
  | { readonly code: 'linkLimit' }
  | { readonly code: 'heardOnly'; readonly reason: string | null }
  | { readonly code: 'sendsSeldom'; readonly everyS: number }
  | { readonly code: 'onlySpotChecks' }
  | { readonly code: 'connecting' }
  | { readonly code: 'letGo'; readonly reason: string | null }
  | { readonly code: 'batteryLow'; readonly percent: number; readonly about: string | null }
  | { readonly code: 'well'; readonly about: string | null };

const seconds = (ms: number): number => Math.max(0, Math.round(ms / 1_000));

/** Pure; `nowMs` is on the clock of the record. */
export function sensorCondition(
  sensor: SensorRecord,
  policy: LinkPolicy,
  nowMs: number,
): { readonly link: SensorStatus['link']; readonly condition: SensorCondition } {
  const phase = sensor.phase;
  switch (phase.phase) {
    case 'idle':
      return { link: 'off', condition: idleCondition(sensor, policy, nowMs) };
    case 'searching':
      if (phase.lost) return { link: 'lost', condition: { code: 'lost', reason: phase.reason } };
      return { link: 'searching', condition: searchCondition(sensor, phase.reason, policy, nowMs) };
    case 'connecting':
    case 'discovering':
    case 'subscribing':
      return { link: 'connecting', condition: { code: 'connecting' } };
    case 'closing':
      if (phase.lost && phase.reason !== null) {
        return { link: 'lost', condition: { code: 'lost', reason: phase.reason } };
      }
      return {
        link: sensor.wanted ? 'connecting' : 'off',
        condition: isLocked(sensor) ? { code: 'locked' } : { code: 'letGo', reason: phase.reason },
      };
    case 'ready': {
      if (sensor.trial !== null) return { link: 'connecting', condition: { code: 'connecting' } };
      const silentMs = nowMs - Math.max(sensor.lastPacketAtMs, phase.readySinceMs);
      if (!phase.answering) return { link: 'lost', condition: { code: 'silent', forS: seconds(silentMs) } };
      return { link: 'connected', condition: readyCondition(sensor, policy, silentMs) };
    }
  }
}

const isLocked = (sensor: SensorRecord): boolean =>
  sensor.troubles.some(({ refusal }) => refusal === 'locked');

/** Wanted, and without a link: what of it is known decides what is said, and "not heard" only where it is true. */
function searchCondition(
  sensor: SensorRecord,
  reason: string | null,
  policy: LinkPolicy,
  nowMs: number,
): SensorCondition {
  const isHeard = nowMs - sensor.lastHeardAtMs < policy.vanishedAfterMs;
  if (nowMs - sensor.linkLimitAtMs < policy.lockedRetryMs) return { code: 'linkLimit' };
  if (isLocked(sensor)) return { code: 'locked' };
  if (!isHeard) return { code: 'notHeard', lastReason: reason };
  if (nowMs - sensor.takesNoLinkAtMs < policy.vanishedAfterMs) return { code: 'takesNoLink' };
  const everyMs = shortestGapMs(sensor.advertising);
  if (everyMs !== null && everyMs >= policy.slowAdvertisingMs) {
    return { code: 'advertisesSeldom', everyS: seconds(everyMs) };
  }
  return { code: 'heardOnly', reason };
}

function readyCondition(sensor: SensorRecord, policy: LinkPolicy, silentMs: number): SensorCondition {
  const everyMs = usualGapMs(sensor.sending);
  const dueMs = Math.max(policy.probeAfterSilenceMs, 1.4 * (everyMs ?? 0));
  if (sensor.onlySpotChecks && !sensor.kinds.includes('heartRate')) return { code: 'onlySpotChecks' };
  if (silentMs >= dueMs + policy.probeTimeoutMs && !sensor.onlySpotChecks) {
    return { code: 'noReadings', forS: seconds(silentMs) };
  }
  if (sensor.onlySpotChecks) return { code: 'onlySpotChecks' };
  const trouble = sensor.troubles.find(({ refusal }) => refusal !== 'missing');
  if (trouble !== undefined && trouble.characteristic !== assigned.batteryLevel) {
    const what = readingOf(trouble.characteristic);
    return trouble.refusal === 'locked' ? { code: 'partlyLocked', what } : { code: 'partlyRefused', what };
  }
  if (everyMs !== null && everyMs >= policy.seldomMs)
    return { code: 'sendsSeldom', everyS: seconds(everyMs) };
  const model = [sensor.manufacturer, sensor.model].filter((part) => part !== null).join(' ');
  const facts = [model, sensor.firmware === null ? '' : `firmware ${sensor.firmware}`].filter(Boolean);
  const about = facts.length === 0 ? null : facts.join(', ');
  if (sensor.batteryPercent !== null && sensor.batteryPercent <= policy.lowBatteryPercent) {
    return { code: 'batteryLow', percent: sensor.batteryPercent, about };
  }
  return { code: 'well', about };
}

function readingOf(characteristic: string): LockedReading {
  if (characteristic === assigned.heartRateMeasurement) return 'heartRate';
  const isSaturation = characteristic === assigned.plxContinuous || characteristic === assigned.plxSpotCheck;
  return isSaturation ? 'saturation' : 'readings';
}

/** Helps to tell one sensor from others of its model: the one whose signal comes or goes as it is switched. */
function idleCondition(sensor: SensorRecord, policy: LinkPolicy, nowMs: number): SensorCondition {
  const unheardMs = nowMs - sensor.lastHeardAtMs;
  if (unheardMs >= policy.vanishedAfterMs) return { code: 'signalGone', forS: seconds(unheardMs) };
  const agoMs = nowMs - sensor.appearedAtMs;
  return agoMs < policy.justAppearedMs ? { code: 'appeared', agoS: seconds(agoMs) } : { code: 'inRange' };
}
