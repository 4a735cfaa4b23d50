// From the shapes the store keeps back to the hub's own values. Null becomes absence here, at the edge of JSON.

import type { MonotonicMs } from '../../shared/units.ts';
import type { ActiveAlarm } from '../../src/alarms/alarm.ts';
import type { Hold } from '../../src/holds/hold.ts';
import type { LiveHold } from '../../src/pipeline.ts';
import type { QualityReason, Sample } from '../../src/samples/sample.ts';
import type { StoredAlarm, StoredHold } from '../base/ports/stored-session.ts';

/** `contractionsAtMs`: of all contraction marks of the athlete, in order. */
export function fromStoredHold(
  { hold }: Pick<StoredHold, 'hold'>,
  contractionsAtMs: readonly MonotonicMs[],
): LiveHold {
  const { holdId, start, end, lowestSpo2 } = hold;
  const untilMs = end?.atMs ?? Number.POSITIVE_INFINITY;
  const own: Hold = {
    holdId,
    start,
    ...(end !== null && { end }),
    contractionsAtMs: contractionsAtMs.filter((atMs) => atMs >= start.atMs && atMs <= untilMs),
  };
  if (lowestSpo2 === null) return { hold: own };
  const lowest: Sample = {
    ...lowestSpo2,
    channel: 'spo2Percent',
    reasons: lowestSpo2.reasons as QualityReason[],
  };
  return { hold: own, lowestSpo2: lowest };
}

/** An alarm as it stood when it was last written. */
export function fromStoredAlarm({ alarm }: Pick<StoredAlarm, 'alarm'>): ActiveAlarm {
  const { message: _message, instruction: _instruction, ...kept } = alarm;
  return Object.fromEntries(
    Object.entries(kept).filter(([, value]) => value !== null),
  ) as unknown as ActiveAlarm;
}
