// What a sensor's link comes down to for a person: one code with its numbers (words: `shared/words/en-sensors.ts`).

import { type Said, said } from '../../../shared/said.ts';
import type { SensorStatus } from '../../base/ports/sensor-source.ts';
import type { LinkPolicy } from './link-policy.ts';
import type { SensorRecord } from './link-state.ts';
import { shortestGapMs, usualGapMs } from './sensor-pace.ts';
import { assigned } from './uuid.ts';

type LockedReading = 'heartRate' | 'saturation' | 'readings';

const seconds = (ms: number): number => Math.max(0, Math.round(ms / 1_000));

/** Pure; `nowMs` is on the clock of the record. */
export function sensorCondition(
  sensor: SensorRecord,
  policy: LinkPolicy,
  nowMs: number,
): { readonly link: SensorStatus['link']; readonly detail: Said | null } {
  const phase = sensor.phase;
  if (sensor.pairing !== null && phase.phase !== 'closing')
    return { link: 'connecting', detail: said(`sensor.${sensor.pairing.question.kind}`) };
  switch (phase.phase) {
    case 'idle':
      return { link: 'off', detail: idleCondition(sensor, policy, nowMs) };
    case 'searching':
      if (phase.lost) return { link: 'lost', detail: lostSaid(phase.reason) };
      return { link: 'searching', detail: searchCondition(sensor, phase.reason, policy, nowMs) };
    case 'connecting':
    case 'discovering':
    case 'subscribing':
      return { link: 'connecting', detail: null };
    case 'closing':
      if (phase.lost && phase.reason !== null) {
        return { link: 'lost', detail: lostSaid(phase.reason) };
      }
      return {
        link: sensor.wanted ? 'connecting' : 'off',
        detail: lockedSaid(sensor) ?? phase.reason,
      };
    case 'ready': {
      if (sensor.trial !== null) return { link: 'connecting', detail: null };
      const silentMs = nowMs - Math.max(sensor.lastPacketAtMs, phase.readySinceMs);
      if (!phase.answering)
        return { link: 'lost', detail: said('sensor.silent', { forS: seconds(silentMs) }) };
      return { link: 'connected', detail: readyCondition(sensor, policy, silentMs) };
    }
  }
}

/** Undefined where it is not locked. */
function lockedSaid({ troubles, canPair }: SensorRecord): Said | undefined {
  const lock = troubles.find(({ refusal }) => refusal === 'locked');
  if (lock === undefined) return undefined;
  return canPair ? said('sensor.notPaired', { reason: lock.reason }) : said('sensor.locked');
}

/** Without a link, and heard under its own address: it is nobody else, whatever keeps it from working. */
export function isHeardUnlinked(sensor: SensorRecord, policy: LinkPolicy, nowMs: number): boolean {
  const { phase, wanted, pairing } = sensor;
  return (
    wanted &&
    pairing === null &&
    phase.phase === 'searching' &&
    (nowMs - sensor.lastHeardAtMs < policy.vanishedAfterMs ||
      nowMs - sensor.linkLimitAtMs < policy.lockedRetryMs ||
      lockedSaid(sensor) !== undefined)
  );
}

/** Wanted, and without a link: what of it is known decides what is said, and "not heard" only where it is true. */
function searchCondition(
  sensor: SensorRecord,
  reason: Said | null,
  policy: LinkPolicy,
  nowMs: number,
): Said | null {
  const isHeard = nowMs - sensor.lastHeardAtMs < policy.vanishedAfterMs;
  if (nowMs - sensor.linkLimitAtMs < policy.lockedRetryMs) return said('sensor.linkLimit');
  const locked = lockedSaid(sensor);
  if (locked !== undefined) return locked;
  if (!isHeard) return withLastTime(said('sensor.notHeard'), reason);
  if (nowMs - sensor.takesNoLinkAtMs < policy.vanishedAfterMs) return said('sensor.takesNoLink');
  const everyMs = shortestGapMs(sensor.advertising);
  if (everyMs !== null && everyMs >= policy.slowAdvertisingMs) {
    return said('sensor.advertisesSeldom', { everyS: seconds(everyMs) });
  }
  return withLastTime(said('sensor.heardOnly'), reason);
}

function readyCondition(sensor: SensorRecord, policy: LinkPolicy, silentMs: number): Said | null {
  const everyMs = usualGapMs(sensor.sending);
  const dueMs = Math.max(policy.probeAfterSilenceMs, 1.4 * (everyMs ?? 0));
  if (sensor.onlySpotChecks && !sensor.kinds.includes('heartRate')) return said('sensor.onlySpotChecks');
  if (silentMs >= dueMs + policy.probeTimeoutMs && !sensor.onlySpotChecks) {
    return said('sensor.noReadings', { forS: seconds(silentMs) });
  }
  if (sensor.onlySpotChecks) return said('sensor.onlySpotChecks');
  const trouble = sensor.troubles.find(({ refusal }) => refusal !== 'missing');
  if (trouble !== undefined && trouble.characteristic !== assigned.batteryLevel) {
    const what = readingOf(trouble.characteristic);
    return trouble.refusal === 'locked'
      ? said('sensor.partlyLocked', { what })
      : said('sensor.partlyRefused', { what });
  }
  if (everyMs !== null && everyMs >= policy.seldomMs)
    return said('sensor.sendsSeldom', { everyS: seconds(everyMs) });
  const model = [sensor.manufacturer, sensor.model].filter((part) => part !== null).join(' ');
  const about = aboutSaid(model, sensor.firmware);
  if (sensor.batteryPercent !== null && sensor.batteryPercent <= policy.lowBatteryPercent) {
    const percent = sensor.batteryPercent;
    return about === null
      ? said('sensor.batteryLow', { percent })
      : said('sensor.batteryLowAbout', { percent, about });
  }
  return about;
}

function aboutSaid(model: string, firmware: string | null): Said | null {
  if (firmware === null) return model === '' ? null : said('sensor.model', { model });
  return model === ''
    ? said('sensor.firmware', { firmware })
    : said('sensor.modelAndFirmware', { model, firmware });
}

const lostSaid = (reason: Said | null): Said =>
  said('sensor.lost', { reason: reason ?? said('link.wentSilent') });

const withLastTime = (state: Said, reason: Said | null): Said =>
  reason === null ? state : said('sensor.lastTime', { state, reason });

function readingOf(characteristic: string): LockedReading {
  if (characteristic === assigned.heartRateMeasurement) return 'heartRate';
  const isSaturation = characteristic === assigned.plxContinuous || characteristic === assigned.plxSpotCheck;
  return isSaturation ? 'saturation' : 'readings';
}

/** Helps to tell one sensor from others of its model: the one whose signal comes or goes as it is switched. */
function idleCondition(sensor: SensorRecord, policy: LinkPolicy, nowMs: number): Said | null {
  const unheardMs = nowMs - sensor.lastHeardAtMs;
  if (unheardMs >= policy.vanishedAfterMs) return said('sensor.signalGone', { forS: seconds(unheardMs) });
  const agoMs = nowMs - sensor.appearedAtMs;
  return agoMs < policy.justAppearedMs
    ? said('sensor.appeared', { agoS: seconds(agoMs) })
    : said('sensor.inRange');
}
