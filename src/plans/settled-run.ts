// A plan's run by the holds of its recording as they stand, corrected ones too: one start, one end and one length of a hold,
// whoever asks. What was told live stays in the run's events.

import type { HoldView } from '../../shared/views.ts';
import { type AthleteRun, emptyRecord, type StepRecord } from './plan-run-state.ts';

/** One of the recording's holds, in session time. */
export interface SettledHold {
  readonly hold: Pick<HoldView, 'holdId' | 'start' | 'end' | 'feeling'>;
  /** As measured in the recording; null where it is not known. */
  readonly lowestSpo2Percent: number | null;
}

interface Span {
  readonly startMs: number;
  readonly endMs: number;
}

/** At least half of the shorter is shared. */
const share = (one: Span, other: Span): number => {
  const sharedMs = Math.min(one.endMs, other.endMs) - Math.max(one.startMs, other.startMs);
  return sharedMs > 0 && 2 * sharedMs >= Math.min(one.endMs - one.startMs, other.endMs - other.startMs)
    ? sharedMs
    : 0;
};

/**
 * The run with its records' times, sources, recoveries, lowest readings and comfort from `holds` (in time order);
 * `runStartsAtMs` is the session's time when the run began. A hold that a correction took away is `withdrawn`; one that the run does
 * not know is outside the plan. Records of swims and of what nobody saw stay as they are.
 */
export function settleRun(
  athleteRun: AthleteRun,
  holds: readonly SettledHold[],
  runStartsAtMs: number,
): AthleteRun {
  const taken = new Set<number>();
  const spanOf = ({ hold }: SettledHold): Span => ({
    startMs: hold.start.atMs - runStartsAtMs,
    endMs: (hold.end?.atMs ?? Number.POSITIVE_INFINITY) - runStartsAtMs,
  });
  const findHold = ({ holdIds, startedAtMs, endedAtMs }: StepRecord): number => {
    if (startedAtMs === null) return -1;
    const byId = holds.findIndex(({ hold }, index) => !taken.has(index) && holdIds.includes(hold.holdId));
    if (byId !== -1) return byId;
    const own = { startMs: startedAtMs, endMs: endedAtMs ?? Number.POSITIVE_INFINITY };
    let best = -1;
    holds.forEach((each, index) => {
      if (taken.has(index) || share(own, spanOf(each)) === 0) return;
      if (best === -1 || share(own, spanOf(each)) > share(own, spanOf(holds[best]!))) best = index;
    });
    return best;
  };
  const settled = athleteRun.records.map((record): StepRecord => {
    const step = record.stepIndex === null ? undefined : athleteRun.steps[record.stepIndex];
    if (step?.effort === 'swim' || record.startedAtMs === null) return record;
    const index = findHold(record);
    const found = holds[index];
    if (found === undefined)
      // Seen at the time, and no hold of the recording as it stands.
      return record.holdIds.length === 0
        ? record
        : { ...record, startedAtMs: null, endedAtMs: null, recoveryBeforeMs: null, outcome: 'withdrawn' };
    taken.add(index);
    return recordOf(record, found, index, holds, runStartsAtMs);
  });
  const runEndMs = athleteRun.records.reduce((last, { endedAtMs }) => Math.max(last, endedAtMs ?? 0), 0);
  holds.forEach((found, index) => {
    // Before and after the run, holds are the session's, not its.
    const { startMs } = spanOf(found);
    if (taken.has(index) || startMs < 0 || startMs > runEndMs) return;
    settled.push(recordOf({ ...emptyRecord, outcome: 'done' }, found, index, holds, runStartsAtMs));
  });
  const at = ({ startedAtMs, nominalStartAtMs, cuedAtMs }: StepRecord): number =>
    startedAtMs ?? cuedAtMs ?? nominalStartAtMs ?? 0;
  return { ...athleteRun, records: settled.sort((a, b) => at(a) - at(b)) };
}

function recordOf(
  record: StepRecord,
  { hold, lowestSpo2Percent }: SettledHold,
  index: number,
  holds: readonly SettledHold[],
  runStartsAtMs: number,
): StepRecord {
  const { start, end, feeling } = hold;
  const previousEndMs = holds[index - 1]?.hold.end?.atMs;
  return {
    ...record,
    holdIds: [...new Set([...record.holdIds, hold.holdId])],
    startedAtMs: start.atMs - runStartsAtMs,
    startSource: start.source,
    endedAtMs: end === null ? null : end.atMs - runStartsAtMs,
    endSource: end?.source ?? null,
    recoveryBeforeMs: previousEndMs === undefined ? null : Math.max(0, start.atMs - previousEndMs),
    lowestSpo2Percent: lowestSpo2Percent ?? record.lowestSpo2Percent,
    comfort: feeling?.comfort ?? record.comfort,
  };
}
