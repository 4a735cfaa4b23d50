// Advice after sessions as a decision table: each row has its condition, its data, its words and its source.
// Worded to be talked over with an instructor. No row ever asks for longer, deeper or alone.

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
  readonly suggestion: string;
  /** Why, in one sentence with the numbers it rests on. */
  readonly reason: string;
  readonly source: string;
}

interface AdviceRow {
  readonly key: string;
  readonly source: string;
  readonly suggestion: string;
  /** The reason when the row applies, else null. `past` is in order of time, oldest first. */
  readonly because: (past: readonly TrainingSession[], nowWallMs: number) => string | null;
}

const dayMs = 86_400_000;
const commonPractice = 'common practice, no source';

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
    suggestion:
      'Talk over with an instructor what happened before the next hold, and rest until everyone is satisfied that all is well.',
    because: (past) => (past.at(-1)?.aborted === true ? 'A hold of the last session was called off.' : null),
  },
  {
    key: 'notAlone',
    source:
      'published general guidance: direct one-to-one supervision (Alert Diver, Spring 2016, citing the 2006 UHMS/DAN workshop)',
    suggestion:
      'Have someone beside you for hard holds and maximal walks; leave them out on days when nobody is there.',
    because: (past, nowWallMs) => {
      const alone = within(past, nowWallMs, 28).filter(
        (session) => session.alone && (session.hard || session.maximalCount > 0),
      );
      return alone.length > 0
        ? `${alone.length} hard or maximal ${alone.length === 1 ? 'session' : 'sessions'} in four weeks had nobody named beside you.`
        : null;
    },
  },
  {
    key: 'lowSaturation',
    source:
      'design choice; a finger reads later and shallower than the body (Lindholm 2007, Aviat Space Environ Med 78:770-773)',
    suggestion: 'Consider shorter holds, or a higher floor so that the alarm comes earlier.',
    because: (past) => {
      const measured = past.filter(
        (session) => session.lowestSpo2Percent !== null && session.floorSpo2Percent !== null,
      );
      const lastThree = measured.slice(-3);
      const low = lastThree.filter(
        (session) => (session.lowestSpo2Percent ?? 100) <= (session.floorSpo2Percent ?? 0),
      );
      return low.length >= 2
        ? `In ${low.length} of the last ${lastThree.length} measured sessions saturation reached the floor or went below it.`
        : null;
    },
  },
  {
    key: 'hardDaysInARow',
    source: commonPractice,
    suggestion: 'Consider an easy week: fewer sessions, shorter holds, nothing maximal.',
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
      return longest >= 3 ? `${longest} hard days in a row within the last week.` : null;
    },
  },
  {
    key: 'fallingComfort',
    source: commonPractice,
    suggestion: 'Consider an easy week: fewer sessions, shorter holds, nothing maximal.',
    because: (past) => {
      const rated = comforts(past);
      if (rated.length < 6) return null;
      const before = sum(rated.slice(-6, -3));
      const now = sum(rated.slice(-3));
      return before - now >= 3
        ? `Comfort of the last three sessions averages ${(now / 3).toFixed(1)} of 5, after ${(before / 3).toFixed(1)} in the three before.`
        : null;
    },
  },
  {
    key: 'uncomfortable',
    source: commonPractice,
    suggestion: 'Make the next session an easy one, and stop each hold while it is still comfortable.',
    because: (past) => {
      const comfort = past.at(-1)?.comfort;
      return comfort !== null && comfort !== undefined && comfort <= 2
        ? `The last session was marked ${comfort} of 5 for comfort.`
        : null;
    },
  },
  {
    key: 'tooManySessions',
    source: `${commonPractice}: two a week are good, three the most`,
    suggestion: 'Leave out a session or two this week.',
    because: (past, nowWallMs) => {
      const count = within(past, nowWallMs, 7).length;
      return count > 3 ? `${count} sessions in the last seven days.` : null;
    },
  },
  {
    key: 'enoughThisWeek',
    source: `${commonPractice}: two a week are good, three the most`,
    suggestion: 'That is enough for this week; rest before the next session.',
    because: (past, nowWallMs) =>
      within(past, nowWallMs, 7).length === 3 ? 'Three sessions in the last seven days.' : null,
  },
  {
    key: 'recoveryDay',
    source: commonPractice,
    suggestion: 'Keep a day without holds after a hard one.',
    because: (past, nowWallMs) => {
      const last = past.at(-1);
      return last?.hard === true && nowWallMs - last.startedWallAtMs < dayMs
        ? 'The last session, less than a day ago, was hard.'
        : null;
    },
  },
  {
    key: 'maximalOften',
    source: commonPractice,
    suggestion: 'Leave maximal holds out for a while.',
    because: (past, nowWallMs) => {
      const count = sum(within(past, nowWallMs, 7).map((session) => session.maximalCount));
      return count > 2 ? `${count} maximal efforts in the last seven days.` : null;
    },
  },
  {
    key: 'afterABreak',
    source: commonPractice,
    suggestion: 'Begin again easily: fewer and shorter holds than before the break.',
    because: (past, nowWallMs) => {
      const last = past.at(-1);
      if (last === undefined) return null;
      const days = Math.floor((nowWallMs - last.startedWallAtMs) / dayMs);
      return days >= 28 ? `The last session was ${days} days ago.` : null;
    },
  },
  {
    key: 'lengthenInterval',
    source: `${commonPractice}: once most holds leave about a minute, the interval grows by a minute`,
    suggestion: 'Make the interval a minute longer next time, for more recovery.',
    because: (past) => {
      const series = past.findLast((session) => session.intervalSeries !== null)?.intervalSeries;
      if (series === undefined || series === null || series.holdsMs.length < 3) return null;
      const short = series.holdsMs.filter((holdMs) => series.everyMs - holdMs <= 75_000);
      return short.length * 2 > series.holdsMs.length
        ? `${short.length} of ${series.holdsMs.length} holds of the last series left about a minute or less.`
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

/** Stands above any advice, wherever it is shown. */
export const adviceHeading = 'To talk over with your instructor';
