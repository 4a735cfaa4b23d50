// Advice after sessions as a decision table: each row has its condition, its data, its words and its source.
// Worded to be talked over with an instructor. No row ever asks for longer, deeper or alone, and no row silences another.

import { type Said, said } from '../../shared/said.ts';
import type { AlarmKind } from '../../shared/schema-parts.ts';
import type { Effort } from '../../shared/session-details.ts';
import { calledOffWhy, type WhyCalledOff } from './called-off-why.ts';
import { loadOfWeek } from './training-load.ts';

/** One session's part, from a recording, a plan's run or the training log. Several on one day are one training day. */
export interface TrainingSession {
  readonly startedWallAtMs: number;
  /** Days since 1970 by the calendar of the athlete's place. */
  readonly localDay: number;
  readonly kind: 'dry' | 'walk' | 'pool';
  /** Null where nobody said. */
  readonly effort: Effort | null;
  /** From first to last, rests included; null where it is not known. */
  readonly minutes: number | null;
  readonly maximalCount: number;
  /** Null where nobody said. */
  readonly company: 'alone' | 'accompanied' | null;
  /** A hold of a plan that was called off, or a plan that was ended before its last hold. */
  readonly calledOff: {
    readonly title: string;
    readonly holdNumber: number;
    readonly plannedCount: number | null;
    readonly why: WhyCalledOff | AlarmKind;
  } | null;
  /** Which holds reached the floor's alarm, counted from one; empty for none and where it is not known. */
  readonly floorAlarmHolds: readonly number[];
  /** 1 very uncomfortable, 5 easy. */
  readonly comfort: number | null;
  readonly lowestSpo2Percent: number | null;
  readonly floorSpo2Percent: number | null;
  /** A self-paced interval series: the interval, and how long each hold was. */
  readonly intervalSeries: { readonly everyMs: number; readonly holdsMs: readonly number[] } | null;
}

export interface AdviceInput {
  readonly nowWallMs: number;
  /** Of `nowWallMs`, as in `TrainingSession`. */
  readonly today: number;
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
  readonly suggestion: Said | ((past: Past) => Said);
  /** The reason when the row applies, else null. */
  readonly because: (past: Past) => Said | null;
}

/** Sessions until now, oldest first, and today. */
interface Past {
  readonly sessions: readonly TrainingSession[];
  readonly nowWallMs: number;
  readonly today: number;
}

const dayMs = 86_400_000;
/** An older figure is not used: four weeks change a body. Common practice, no source. */
const freshDays = 28;
/** What happened in one session is spoken of for so long. Our choice. */
const recentDays = 14;
/** About a minute: up to a quarter more. */
const aboutAMinuteMs = 75_000;
const intervalStepMs = 60_000;
/** The longest that a plan takes (shared/plan.ts). */
const longestIntervalMs = 1_800_000;
/** A week this many times the four before is much more. Our choice: no limit is proven. */
const muchMore = 1.5;
/** Load is compared only where most of it is known. Our choice. */
const leastKnownShare = 0.8;
const commonPractice = said('source.commonPractice');

/** Today and the days before it, `days` in all. */
const within = ({ sessions, today }: Past, days: number) =>
  sessions.filter(({ localDay }) => today - localDay < days);
const sum = (values: readonly number[]) => values.reduce((total, value) => total + value, 0);
const mean = (values: readonly number[]) => sum(values) / values.length;
const isHard = ({ effort, maximalCount }: TrainingSession) => effort === 'hard' || maximalCount > 0;
const trainingDays = (sessions: readonly TrainingSession[]) =>
  new Set(sessions.map(({ localDay }) => localDay));
const comforts = (sessions: readonly TrainingSession[]) =>
  sessions.flatMap((session) => (session.comfort === null ? [] : [session.comfort]));

/** The newer half of what was rated beside the older; null where fewer than four were, or comfort did not fall by a step. */
function comfortFall(
  sessions: readonly TrainingSession[],
): { now: number; before: number; count: number } | null {
  const rated = comforts(sessions);
  if (rated.length < 4) return null;
  const half = Math.floor(rated.length / 2);
  const [before, now] = [mean(rated.slice(0, half)), mean(rated.slice(-half))];
  return before - now >= 1 - 1e-9 ? { now, before, count: rated.length } : null;
}

/** The longest row of hard days that reaches into the last week: its first and last day. */
function hardRow(past: Past): { first: number; last: number; count: number } | null {
  const days = trainingDays(within(past, freshDays).filter(isHard));
  let longest: { first: number; last: number; count: number } | null = null;
  for (const first of days) {
    if (days.has(first - 1)) continue;
    let last = first;
    while (days.has(last + 1)) last += 1;
    const count = last - first + 1;
    if (past.today - last < 7 && count >= (longest?.count ?? 3)) longest = { first, last, count };
  }
  return longest;
}

/** Comfort that fell within a row of hard days. */
function fallInHardRow(past: Past) {
  const row = hardRow(past);
  if (row === null) return null;
  const fall = comfortFall(
    past.sessions.filter(({ localDay }) => localDay >= row.first && localDay <= row.last),
  );
  return fall === null ? null : { ...row, ...fall };
}

/** The last series, with the next interval in steps of a minute; null where it is old, or leaves enough. */
function longerInterval(past: Past) {
  const series = within(past, freshDays).findLast((session) => session.intervalSeries !== null);
  if (series === undefined || series.intervalSeries === null) return null;
  const { everyMs, holdsMs } = series.intervalSeries;
  const toMs = everyMs + intervalStepMs;
  if (holdsMs.length < 3 || toMs > longestIntervalMs) return null;
  const short = holdsMs.filter((holdMs) => everyMs - holdMs <= aboutAMinuteMs).length;
  return short * 2 > holdsMs.length
    ? { fromMs: everyMs, toMs, short, all: holdsMs.length, day: series.localDay }
    : null;
}

/** The load of seven days, and of a week on average in the four before; null where too little is known. */
function loadBeside(past: Past): { now: number; before: number } | null {
  const weeks = [0, 1, 2, 3, 4].map((back) =>
    loadOfWeek(past.sessions.filter(({ localDay }) => Math.floor((past.today - localDay) / 7) === back)),
  );
  const all = sum(weeks.map(({ sessionCount }) => sessionCount));
  const unknown = sum(weeks.map(({ unknownCount }) => unknownCount));
  if (all === 0 || 1 - unknown / all < leastKnownShare) return null;
  const [now, ...earlier] = weeks.map(({ load }) => load);
  if (earlier.filter((load) => load > 0).length < 3) return null;
  return { now: now!, before: mean(earlier) };
}

/** The table, most careful first; tests/core/training/advice.test.ts goes row by row. */
export const adviceTable: readonly AdviceRow[] = [
  {
    key: 'calledOff',
    source: commonPractice,
    suggestion: said('advice.calledOff'),
    because: (past) => {
      const session = within(past, recentDays).findLast(
        ({ calledOff }) => calledOff !== null && calledOff.why !== 'endedEarly',
      );
      if (session === undefined || session.calledOff === null) return null;
      const { title, holdNumber, why } = session.calledOff;
      return said('advice.calledOff.because', {
        hold: holdNumber,
        title,
        day: session.localDay,
        why: calledOffWhy(why),
      });
    },
  },
  {
    key: 'floorAlarm',
    source: commonPractice,
    suggestion: said('advice.floorAlarm'),
    because: (past) => {
      const session = within(past, recentDays).findLast(
        ({ floorAlarmHolds, calledOff }) => floorAlarmHolds.length > 0 && calledOff?.why !== 'floorBreached',
      );
      return session === undefined
        ? null
        : said('advice.floorAlarm.because', {
            count: session.floorAlarmHolds.length,
            first: session.floorAlarmHolds[0]!,
            day: session.localDay,
          });
    },
  },
  {
    key: 'notAlone',
    source: said('source.oneToOne'),
    suggestion: said('advice.notAlone'),
    because: (past) => {
      const alone = within(past, freshDays).filter(
        (session) => session.company === 'alone' && isHard(session),
      );
      return alone.length > 0 ? said('advice.notAlone.because', { count: alone.length }) : null;
    },
  },
  {
    key: 'lowSaturation',
    source: said('source.fingerLag'),
    suggestion: said('advice.lowSaturation'),
    because: (past) => {
      const measured = within(past, freshDays).filter(
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
    key: 'hardDaysFallingComfort',
    source: commonPractice,
    suggestion: said('advice.restDays'),
    because: (past) => {
      const found = fallInHardRow(past);
      return found === null
        ? null
        : said('advice.hardDaysFallingComfort.because', {
            count: found.count,
            before: found.before,
            now: found.now,
          });
    },
  },
  {
    key: 'hardDaysInARow',
    source: commonPractice,
    suggestion: said('advice.easyWeek'),
    because: (past) => {
      const row = fallInHardRow(past) === null ? hardRow(past) : null;
      return row === null ? null : said('advice.hardDaysInARow.because', { count: row.count, day: row.last });
    },
  },
  {
    key: 'fallingComfort',
    source: commonPractice,
    suggestion: said('advice.easyWeek'),
    because: (past) => {
      const fall = fallInHardRow(past) === null ? comfortFall(within(past, freshDays)) : null;
      return fall === null ? null : said('advice.fallingComfort.because', fall);
    },
  },
  {
    key: 'uncomfortable',
    source: commonPractice,
    suggestion: said('advice.uncomfortable'),
    because: (past) => {
      const comfort = within(past, recentDays).at(-1)?.comfort;
      return comfort !== null && comfort !== undefined && comfort <= 2
        ? said('advice.uncomfortable.because', { comfort })
        : null;
    },
  },
  {
    key: 'tooManyDays',
    source: said('source.sessionsAWeek'),
    suggestion: said('advice.tooManyDays'),
    because: (past) => {
      const count = trainingDays(within(past, 7)).size;
      return count > 3 ? said('advice.tooManyDays.because', { count }) : null;
    },
  },
  {
    key: 'enoughThisWeek',
    source: said('source.sessionsAWeek'),
    suggestion: said('advice.enoughThisWeek'),
    because: (past) =>
      trainingDays(within(past, 7)).size === 3 ? said('advice.enoughThisWeek.because') : null,
  },
  {
    key: 'loadRose',
    source: said('source.sessionLoad'),
    suggestion: said('advice.loadRose'),
    because: (past) => {
      const load = loadBeside(past);
      return load !== null && load.now > muchMore * load.before
        ? said('advice.loadRose.because', load)
        : null;
    },
  },
  {
    key: 'recoveryDay',
    source: commonPractice,
    suggestion: said('advice.recoveryDay'),
    because: (past) => {
      const last = past.sessions.at(-1);
      return last !== undefined && isHard(last) && past.nowWallMs - last.startedWallAtMs < dayMs
        ? said('advice.recoveryDay.because')
        : null;
    },
  },
  {
    key: 'maximalOften',
    source: commonPractice,
    suggestion: said('advice.maximalOften'),
    because: (past) => {
      const count = sum(within(past, 7).map((session) => session.maximalCount));
      return count > 2 ? said('advice.maximalOften.because', { count }) : null;
    },
  },
  {
    key: 'endedEarly',
    source: commonPractice,
    suggestion: said('advice.endedEarly'),
    because: (past) => {
      const session = within(past, recentDays).findLast(({ calledOff }) => calledOff?.why === 'endedEarly');
      if (session === undefined || session.calledOff === null) return null;
      const { title, holdNumber, plannedCount } = session.calledOff;
      return said('advice.endedEarly.because', {
        title,
        day: session.localDay,
        hold: holdNumber,
        all: plannedCount ?? holdNumber,
      });
    },
  },
  {
    key: 'afterABreak',
    source: commonPractice,
    suggestion: said('advice.afterABreak'),
    because: ({ sessions, today }) => {
      const last = sessions.at(-1);
      if (last === undefined) return null;
      const days = today - last.localDay;
      return days >= 28 ? said('advice.afterABreak.because', { days }) : null;
    },
  },
  {
    key: 'lengthenInterval',
    source: said('source.intervalGrows'),
    suggestion: (past) => {
      const { fromMs, toMs } = longerInterval(past) ?? { fromMs: 0, toMs: 0 };
      return said('advice.lengthenInterval', { fromMs, toMs });
    },
    because: (past) => {
      const longer = longerInterval(past);
      if (longer === null) return null;
      const { short, all, day } = longer;
      return said('advice.lengthenInterval.because', { short, all, day });
    },
  },
];

/** Advice that applies now, most careful first. */
export function adviseTraining({ nowWallMs, today, sessions }: AdviceInput): readonly Advice[] {
  const past: Past = {
    nowWallMs,
    today,
    sessions: sessions
      .filter((session) => session.startedWallAtMs <= nowWallMs)
      .toSorted((one, other) => one.startedWallAtMs - other.startedWallAtMs),
  };
  return adviceTable.flatMap(({ key, suggestion, because, source }): Advice[] => {
    const reason = because(past);
    if (reason === null) return [];
    return [
      { key, suggestion: typeof suggestion === 'function' ? suggestion(past) : suggestion, reason, source },
    ];
  });
}
