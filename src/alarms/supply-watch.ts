// Decides whether readings of one measure still arrive and can be used: lost, stale, implausible, poor. Fail safe:
// in a hold and the minute after it, silence and useless data are alarms, never quiet.

import type { AlarmDetail, AlarmKind, AlarmPriority, AlarmSubject } from '../../shared/schema-parts.ts';
import type { QualityReason } from '../samples/sample.ts';
import { alarmLimits as limits } from './alarm-limits.ts';

export type Measure = 'oximeter' | 'heartRate' | 'breathing';

/** How one measure's readings arrive. Times in session ms, null for never. */
export interface Supply {
  /** First sign that such a sensor exists. */
  readonly seenAtMs: number | null;
  readonly notifiedAtMs: number | null;
  readonly usableAtMs: number | null;
  /** First of the uninterrupted doubtful readings. */
  readonly suspectSinceMs: number | null;
  readonly fault: 'implausible' | 'poor' | 'noContact' | null;
}

export interface SensorLink {
  readonly sensorId: string;
  readonly measures: readonly Measure[];
  readonly connected: boolean;
}

/** What is wrong with a supply, as a condition without its key. */
export interface SupplyFault {
  readonly kind: AlarmKind;
  readonly priority: AlarmPriority;
  readonly subject: AlarmSubject;
  readonly value?: number;
  readonly detail?: AlarmDetail;
}

export const noSupply: Supply = {
  seenAtMs: null,
  notifiedAtMs: null,
  usableAtMs: null,
  suspectSinceMs: null,
  fault: null,
};

const implausibleReasons: ReadonlySet<QualityReason> = new Set<QualityReason>([
  'outOfRange',
  'impossibleSlope',
  'stuckValue',
  'sensorsDisagree',
]);

/** A sensor of this measure exists. One just linked is given time for its first notification. */
export function withSeen(supply: Supply, nowMs: number): Supply {
  return supply.seenAtMs === null ? { ...supply, seenAtMs: nowMs } : supply;
}

/** A notification came that carried nothing usable. */
export function withUnusable(supply: Supply, nowMs: number, reasons: readonly QualityReason[]): Supply {
  const fault = reasons.includes('noContact')
    ? 'noContact'
    : reasons.some((reason) => implausibleReasons.has(reason))
      ? 'implausible'
      : 'poor';
  return {
    seenAtMs: supply.seenAtMs ?? nowMs,
    notifiedAtMs: nowMs,
    usableAtMs: supply.usableAtMs,
    suspectSinceMs: null,
    fault,
  };
}

/** A notification came that carried a usable value. */
export function withUsable(supply: Supply, nowMs: number, suspect: boolean): Supply {
  return {
    seenAtMs: supply.seenAtMs ?? nowMs,
    notifiedAtMs: nowMs,
    usableAtMs: nowMs,
    suspectSinceMs: suspect ? (supply.suspectSinceMs ?? nowMs) : null,
    fault: null,
  };
}

/** The link of one sensor, if it is known. By hand, because it is asked some times a step. */
export function linkOf(links: readonly SensorLink[], sensorId: string): SensorLink | undefined {
  for (let i = 0; i < links.length; i++) if (links[i]!.sensorId === sensorId) return links[i];
  return undefined;
}

function isUnlinked(links: readonly SensorLink[], measure: Measure): boolean {
  let known = false;
  for (let i = 0; i < links.length; i++) {
    const link = links[i]!;
    if (!link.measures.includes(measure)) continue;
    if (link.connected) return false;
    known = true;
  }
  return known;
}

/**
 * How much a missing reading matters now: not at all at rest; in a hold and the minute after it as soon as a fall could
 * go unseen, which it can at once where saturation is close to the floor.
 */
export type Vigilance = 'none' | 'holding' | 'close';

/** The worst thing wrong with one oximeter's supply, or null. */
export function oximeterFault(
  supply: Supply,
  unlinked: boolean,
  nowMs: number,
  vigilance: Vigilance,
): SupplyFault | null {
  const vigilant = vigilance !== 'none';
  const close = vigilance === 'close';
  const subject = 'oximeter';
  if (supply.seenAtMs === null) return null;
  const silentMs = nowMs - (supply.notifiedAtMs ?? supply.seenAtMs);
  if (unlinked || silentMs >= limits.lostMs) {
    return { subject, kind: 'sensorLost', priority: vigilant ? 'high' : 'low' };
  }
  const unusableMs = nowMs - (supply.usableAtMs ?? supply.seenAtMs);
  if (supply.fault !== null && unusableMs >= (vigilant ? limits.unusableMs : limits.unusableLongMs)) {
    const priority = !vigilant
      ? 'low'
      : unusableMs >= limits.unusableLongMs
        ? 'high'
        : close
          ? 'medium'
          : 'low';
    if (supply.fault === 'implausible') return { subject, kind: 'readingsImplausible', priority };
    return {
      subject,
      kind: 'signalPoor',
      priority,
      detail: supply.fault === 'noContact' ? 'noContact' : 'unusable',
    };
  }
  if (silentMs >= limits.staleMs) {
    return { subject, kind: 'readingsStale', priority: close ? 'medium' : 'low', value: limits.staleMs };
  }
  if (supply.suspectSinceMs !== null && nowMs - supply.suspectSinceMs >= limits.suspectMs) {
    return {
      subject,
      kind: 'signalPoor',
      priority: 'low',
      detail: 'doubtful',
    };
  }
  return null;
}

/**
 * What is wrong with one breathing sensor's supply, or null. It says when a hold begins and ends; the floor does not rest on it.
 * @param missed a hold is under way that it showed or could have shown.
 */
export function breathingFault(
  supply: Supply,
  unlinked: boolean,
  nowMs: number,
  missed: boolean,
): SupplyFault | null {
  if (supply.seenAtMs === null) return null;
  const subject = 'breathingSensor';
  const priority = missed ? 'medium' : 'low';
  if (unlinked || nowMs - (supply.notifiedAtMs ?? supply.seenAtMs) >= limits.lostMs)
    return { subject, priority, kind: 'sensorLost' };
  const offMs = nowMs - (supply.usableAtMs ?? supply.seenAtMs);
  return supply.fault !== null && offMs >= limits.unusableLongMs
    ? { subject, priority, kind: 'signalPoor', detail: 'noContact' }
    : null;
}

/**
 * What is wrong with the heart rate's supply, or null. Less urgent: the saturation is what the floor rests on, and least
 * where the pulse of an oximeter stands in for it.
 */
export function heartRateFault(
  supply: Supply,
  links: readonly SensorLink[],
  nowMs: number,
  missed: boolean,
): SupplyFault | null {
  if (supply.seenAtMs === null) return null;
  const unlinked = isUnlinked(links, 'heartRate');
  if (!unlinked && nowMs - (supply.usableAtMs ?? supply.seenAtMs) < limits.lostMs) return null;
  const subject = 'heartRateSensor';
  const priority = missed ? 'medium' : 'low';
  return supply.fault !== null && !unlinked
    ? { subject, priority, kind: 'signalPoor', detail: 'unusable' }
    : { subject, priority, kind: 'sensorLost' };
}
