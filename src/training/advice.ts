// Advice after sessions as a decision table: each row has its condition, its data, its words and its source.
// Worded to be talked over with an instructor. No row ever asks for longer, deeper or alone.

import { type Said, said } from '../../shared/said.ts';

/** One training day's part, from a recording or from the training log. */
export interface TrainingSession {
  readonly startedWallAtMs: number;
  readonly kind: 'dry' | 'walk' | 'pool';
  /** Marked hard, or with a maximal effort. */
  readonly hard: boolean;
  readonly maximalCount: number;
  /** True where it is known that nobody was there. */
  readonly alone: boolean;
  readonly aborted: boolean;
  /** 1 very uncomfortable, 5 easy. */
  readonly comfort: number | null;
  readonly lowestSpo2Percent: number | null;
  readonly floorSpo2Percent: number | null;
  /** A self-paced interval series: the interval, and how long each hold was. */
  readonly intervalSeries: { readonly everyMs: number; readonly holdsMs: readonly number[] } | null;
}

export interface AdviceInput {
  readonly nowWallMs: number;
  /** In any order. */
  readonly sessions: readonly TrainingSession[];
}

export interface Advice {
  readonly key: string;
  readonly suggestion: Said;
  /** Why, in one sentence with the numbers it rests on. */
  readonly reason: Said;
  readonly source: Said;
}

interface AdviceRow {
  readonly key: string;
  readonly source: Said;
  readonly suggestion: Said;
  /** The reason when the row applies, else null. `past` is in order of time, oldest first. */
  readonly because: (past: readonly TrainingSession[], nowWallMs: number) => Said | null;
}

const dayMs = 86_400_000;
const commonPractice = said('source.commonPractice');

const within = (past: readonly TrainingSession[], nowWallMs: number, days: number) =>
  past.filter((session) => nowWallMs - session.startedWallAtMs < days * dayMs);
const sum = (values: readonly number[]) => values.reduce((total, value) => total + value, 0);
const comforts = (past: readonly TrainingSession[]) =>
  past.flatMap((session) => (session.comfort === null ? [] : [session.comfort]));

/** The table, most careful first; tests/core/training/advice.test.ts goes row by row. */
export const adviceTable: readonly AdviceRow[] = [
  {
    key: 'afterAbort',
    source: commonPractice,
    suggestion: said('advice.afterAbort'),
    because: (past) => (past.at(-1)?.aborted === true ? said('advice.afterAbort.because') : null),
  },
  {
    key: 'notAlone',
    source: said('source.oneToOne'),
    suggestion: said('advice.notAlone'),
    because: (past, nowWallMs) => {
      const alone = within(past, nowWallMs, 28).filter(
        (session) => session.alone && (session.hard || session.maximalCount > 0),
      );
      return alone.length > 0 ? said('advice.notAlone.because', { count: alone.length }) : null;
    },
  },
  {
    key: 'lowSaturation',
    source: said('source.fingerLag'),
    suggestion: said('advice.lowSaturation'),
    because: (past) => {
      const measured = past.filter(
        (session) => session.lowestSpo2Percent !== null && session.floorSpo2Percent !== null,
      );
      const lastThree = measured.slice(-3);
      const low = lastThree.filter(
        (session) => (session.lowestSpo2Percent ?? 100) <= (session.floorSpo2Percent ?? 0),
      );
      return low.length >= 2
        ? said('advice.lowSaturation.because', { low: low.length, all: lastThree.length })
        : null;
    },
  },
  {
    key: 'hardDaysInARow',
    source: commonPractice,
    suggestion: said('advice.easyWeek'),
    because: (past, nowWallMs) => {
      const days = new Set(
        within(past, nowWallMs, 8)
          .filter((session) => session.hard)
          .map((session) => Math.floor(session.startedWallAtMs / dayMs)),
      );
      let longest = 0;
      for (const day of days) {
        let length = 1;
        while (days.has(day + length)) length += 1;
        longest = Math.max(longest, length);
      }
      return longest >= 3 ? said('advice.hardDaysInARow.because', { count: longest }) : null;
    },
  },
  {
    key: 'fallingComfort',
    source: commonPractice,
    suggestion: said('advice.easyWeek'),
    because: (past) => {
      const rated = comforts(past);
      if (rated.length < 6) return null;
      const before = sum(rated.slice(-6, -3));
      const now = sum(rated.slice(-3));
      return before - now >= 3
        ? said('advice.fallingComfort.because', { now: now / 3, before: before / 3 })
        : null;
    },
  },
  {
    key: 'uncomfortable',
    source: commonPractice,
    suggestion: said('advice.uncomfortable'),
    because: (past) => {
      const comfort = past.at(-1)?.comfort;
      return comfort !== null && comfort !== undefined && comfort <= 2
        ? said('advice.uncomfortable.because', { comfort })
        : null;
    },
  },
  {
    key: 'tooManySessions',
    source: said('source.sessionsAWeek'),
    suggestion: said('advice.tooManySessions'),
    because: (past, nowWallMs) => {
      const count = within(past, nowWallMs, 7).length;
      return count > 3 ? said('advice.tooManySessions.because', { count }) : null;
    },
  },
  {
    key: 'enoughThisWeek',
    source: said('source.sessionsAWeek'),
    suggestion: said('advice.enoughThisWeek'),
    because: (past, nowWallMs) =>
      within(past, nowWallMs, 7).length === 3 ? said('advice.enoughThisWeek.because') : null,
  },
  {
    key: 'recoveryDay',
    source: commonPractice,
    suggestion: said('advice.recoveryDay'),
    because: (past, nowWallMs) => {
      const last = past.at(-1);
      return last?.hard === true && nowWallMs - last.startedWallAtMs < dayMs
        ? said('advice.recoveryDay.because')
        : null;
    },
  },
  {
    key: 'maximalOften',
    source: commonPractice,
    suggestion: said('advice.maximalOften'),
    because: (past, nowWallMs) => {
      const count = sum(within(past, nowWallMs, 7).map((session) => session.maximalCount));
      return count > 2 ? said('advice.maximalOften.because', { count }) : null;
    },
  },
  {
    key: 'afterABreak',
    source: commonPractice,
    suggestion: said('advice.afterABreak'),
    because: (past, nowWallMs) => {
      const last = past.at(-1);
      if (last === undefined) return null;
      const days = Math.floor((nowWallMs - last.startedWallAtMs) / dayMs);
      return days >= 28 ? said('advice.afterABreak.because', { days }) : null;
    },
  },
  {
    key: 'lengthenInterval',
    source: said('source.intervalGrows'),
    suggestion: said('advice.lengthenInterval'),
    because: (past) => {
      const series = past.findLast((session) => session.intervalSeries !== null)?.intervalSeries;
      if (series === undefined || series === null || series.holdsMs.length < 3) return null;
      const short = series.holdsMs.filter((holdMs) => series.everyMs - holdMs <= 75_000);
      return short.length * 2 > series.holdsMs.length
        ? said('advice.lengthenInterval.because', { short: short.length, all: series.holdsMs.length })
        : null;
    },
  },
];

/** Advice that applies now, most careful first. After an abort nothing else is said. */
export function adviseTraining(input: AdviceInput): readonly Advice[] {
  const past = input.sessions
    .filter((session) => session.startedWallAtMs <= input.nowWallMs)
    .toSorted((one, other) => one.startedWallAtMs - other.startedWallAtMs);
  const advice = adviceTable.flatMap((row): Advice[] => {
    const reason = row.because(past, input.nowWallMs);
    return reason === null ? [] : [{ key: row.key, suggestion: row.suggestion, reason, source: row.source }];
  });
  return advice[0]?.key === 'afterAbort' ? advice.slice(0, 1) : advice;
}
