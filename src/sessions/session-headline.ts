// What is asked first after a session: how many holds, the longest, the lowest saturation and when it came, the alarms,
// how long recovery took, how the holds felt.

import type { AthleteRecording } from '../../shared/http.ts';
import type { AlarmPriority } from '../../shared/schema-parts.ts';
import { type HoldLength, lengthOfHold } from './hold-length.ts';
import { measureOf, type RecordedHold } from './hold-parts.ts';

type RecordedAlarms = AthleteRecording['alarms'];

/** Of the holds that tell; least and greatest in the unit of the measure. */
export interface OverHolds {
  readonly least: number;
  readonly middle: number;
  readonly greatest: number;
  readonly ofHolds: number;
}

export interface SessionHeadline {
  /** Without proposals that nobody has accepted. */
  readonly holdCount: number;
  readonly proposedCount: number;
  readonly totalMs: number;
  /** The first of several. `number` counts all holds, from 1. */
  readonly longest: (HoldLength & { readonly number: number }) | null;
  readonly lowest: {
    readonly number: number;
    readonly spo2Percent: number;
    /** After that hold's end; negative before it; null where the fall is too small to say. */
    readonly afterEndS: number | null;
  } | null;
  /** End of the hold until saturation and heart rate are back at this athlete's own rest, s. */
  readonly spo2BackS: OverHolds | null;
  readonly heartRateBackS: OverHolds | null;
  /** Holds after which saturation or heart rate was not back before the next. */
  readonly notBackBeforeNext: number;
  /** 1 to 5 as said, a place a hold; null where nobody said. */
  readonly comfort: readonly (number | null)[];
}

export function headlineOf(recorded: readonly RecordedHold[]): SessionHeadline {
  const numbered = recorded.map((one, index) => ({ ...one, number: index + 1 }));
  const counted = numbered.filter(({ hold }) => hold.isProposed !== true);
  let longest: SessionHeadline['longest'] = null;
  let lowest: SessionHeadline['lowest'] = null;
  let totalMs = 0;
  for (const one of counted) {
    const length = lengthOfHold(one.hold);
    totalMs += length?.durationMs ?? 0;
    if (length !== null && (longest === null || length.durationMs > longest.durationMs))
      longest = { ...length, number: one.number };
    const spo2Percent = measureOf(one, 'spo2LowestPercent');
    if (spo2Percent !== null && (lowest === null || spo2Percent < lowest.spo2Percent))
      lowest = { number: one.number, spo2Percent, afterEndS: measureOf(one, 'spo2LowestAfterEndS') };
  }
  return {
    holdCount: counted.length,
    proposedCount: recorded.length - counted.length,
    totalMs,
    longest,
    lowest,
    spo2BackS: overHolds(counted, 'spo2BackToBaselineS'),
    heartRateBackS: overHolds(counted, 'heartRateBackS'),
    notBackBeforeNext: counted.filter(({ measures }) =>
      measures.some(
        ({ key, whyNot }) =>
          (key === 'spo2BackToBaselineS' || key === 'heartRateBackS') &&
          whyNot?.code === 'measure.why.notBackBeforeNext',
      ),
    ).length,
    comfort: counted.map(({ hold }) => hold.feeling?.comfort ?? null),
  };
}

/** Null where no hold tells. */
function overHolds(recorded: readonly RecordedHold[], key: string): OverHolds | null {
  const values = recorded
    .map((one) => measureOf(one, key))
    .filter((value): value is number => value !== null)
    .sort((a, b) => a - b);
  if (values.length === 0) return null;
  const middle = values.length >> 1;
  return {
    least: values[0]!,
    middle: values.length % 2 === 1 ? values[middle]! : (values[middle - 1]! + values[middle]!) / 2,
    greatest: values.at(-1)!,
    ofHolds: values.length,
  };
}

export type AlarmGroup = 'floor' | AlarmPriority;

/** In the order in which they are told: the floor before all, then by the highest priority each had. */
export const alarmGroups = ['floor', 'high', 'medium', 'low'] as const satisfies readonly AlarmGroup[];

const groupOfAlarm = ({ alarm }: RecordedAlarms[number]): AlarmGroup =>
  alarm.kind === 'floorBreached' ? 'floor' : alarm.highestPriority;

/** Within a group in order of time. */
export const alarmsByGroup = (alarms: RecordedAlarms): Readonly<Record<AlarmGroup, RecordedAlarms>> => {
  const ordered = [...alarms].sort((a, b) => a.alarm.raisedAtMs - b.alarm.raisedAtMs);
  const of = (group: AlarmGroup): RecordedAlarms => ordered.filter((each) => groupOfAlarm(each) === group);
  return { floor: of('floor'), high: of('high'), medium: of('medium'), low: of('low') };
};

/**
 * Which hold a time belongs to, by its place from 0: the last that had begun, until 60 s after its end (the finger's
 * lowest comes late); null for none.
 */
export function holdAt(
  holds: readonly Pick<RecordedHold['hold'], 'start' | 'end'>[],
  atMs: number,
): number | null {
  const index = holds.findLastIndex(({ start }) => start.atMs <= atMs);
  const hold = holds[index];
  return hold === undefined || (hold.end !== null && atMs > hold.end.atMs + 60_000) ? null : index;
}
