// How a sensor's link is put to a person: the state in one word and, where it helps, a sentence on why and what to do.

import { percent } from '../../../shared/units.ts';
import type { SensorStatus } from '../../base/ports.ts';
import type { SensorRecord } from './link-machine.ts';
import type { LinkPolicy } from './link-policy.ts';

/** The status of one sensor as the hub shows it. Pure; `nowMs` is on the clock of the record. */
export function sensorStatus(sensor: SensorRecord, policy: LinkPolicy, nowMs: number): SensorStatus {
  const { link, detail } = linkWords(sensor, policy, nowMs);
  return {
    sensorId: sensor.sensorId,
    name: sensor.name,
    kinds: [...sensor.kinds],
    source: 'bluetooth',
    link,
    detail,
    batteryPercent: sensor.batteryPercent === null ? null : percent(sensor.batteryPercent),
    rssiDbm: sensor.rssiDbm,
  };
}

function linkWords(
  sensor: SensorRecord,
  policy: LinkPolicy,
  nowMs: number,
): Pick<SensorStatus, 'link' | 'detail'> {
  const phase = sensor.phase;
  switch (phase.phase) {
    case 'idle':
      return { link: 'off', detail: idleWords(sensor, policy, nowMs) };
    case 'searching': {
      const because = phase.reason === null ? '' : ` Last time: ${phase.reason}.`;
      return phase.lost
        ? {
            link: 'lost',
            detail: `Lost: ${phase.reason ?? 'it went silent'}. Reconnecting by itself as soon as it is heard.`,
          }
        : {
            link: 'searching',
            detail: `Not heard yet. Switch it on or put it on, and keep it within a few metres.${because}`,
          };
    }
    case 'connecting':
    case 'discovering':
    case 'subscribing':
      return { link: 'connecting', detail: null };
    case 'closing':
      return phase.lost && phase.reason !== null
        ? { link: 'lost', detail: `Lost: ${phase.reason}. Reconnecting by itself.` }
        : { link: sensor.wanted ? 'connecting' : 'off', detail: phase.reason };
    case 'ready':
      return readyWords(sensor, phase, policy, nowMs);
  }
}

function readyWords(
  sensor: SensorRecord,
  phase: Extract<SensorRecord['phase'], { phase: 'ready' }>,
  policy: LinkPolicy,
  nowMs: number,
): Pick<SensorStatus, 'link' | 'detail'> {
  const silentMs = nowMs - Math.max(sensor.lastPacketAtMs, phase.readySinceMs);
  if (!phase.answering) {
    return {
      link: 'lost',
      detail: `Lost: nothing for ${Math.round(silentMs / 1000)} s and no answer. Check that it is on and near; reconnecting by itself.`,
    };
  }
  if (silentMs >= policy.probeAfterSilenceMs + policy.probeTimeoutMs) {
    return {
      link: 'connected',
      detail: `Connected, but no readings for ${Math.round(silentMs / 1000)} s. Check that it sits well on the finger or chest.`,
    };
  }
  const model = [sensor.manufacturer, sensor.model].filter((part) => part !== null).join(' ');
  const facts = [model, sensor.firmware === null ? '' : `firmware ${sensor.firmware}`].filter(Boolean);
  const about = facts.length === 0 ? null : facts.join(', ');
  if (sensor.batteryPercent !== null && sensor.batteryPercent <= policy.lowBatteryPercent) {
    const warning = `Battery at ${sensor.batteryPercent} %: charge or change it before the session.`;
    return { link: 'connected', detail: about === null ? warning : `${warning} ${about}` };
  }
  return { link: 'connected', detail: about };
}

/** Helps to tell one sensor from others of its model: the one whose signal comes or goes as it is switched. */
function idleWords(sensor: SensorRecord, policy: LinkPolicy, nowMs: number): string {
  const unheardMs = nowMs - sensor.lastHeardAtMs;
  const seconds = (ms: number) => `${Math.max(0, Math.round(ms / 1000))} s`;
  if (unheardMs >= policy.vanishedAfterMs) return `Signal gone for ${seconds(unheardMs)}.`;
  if (nowMs - sensor.appearedAtMs < policy.justAppearedMs) {
    return `Signal appeared ${seconds(nowMs - sensor.appearedAtMs)} ago. Assign it to an athlete to use it.`;
  }
  return 'In range. Assign it to an athlete to use it; to tell it from others, switch it off and on and watch here.';
}
