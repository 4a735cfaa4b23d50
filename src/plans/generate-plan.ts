// Generators: from a few numbers a person knows to a whole plan. Each result is data that can still be changed.
// The shapes are common practice in dry breath-hold training; there is no published source for the numbers.

import { type Plan, type PlanOf, type PlanRow, planFormat, planVersion } from '../../shared/plan.ts';
import { type Said, said } from '../../shared/said.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import { doubleMinimumRecovery, dryMinimumRecovery, minimumRecoveryMs } from './minimum-recovery.ts';

const head = (title: string, leadInSeconds = 120) =>
  ({ format: planFormat, version: planVersion, title, note: '', leadInSeconds }) as const;

const untitled = (leadInSeconds = 120) => head('untitled', leadInSeconds);
/** A plan has to have a title; a page gives it the one of its own language. */
const titled = <Kind extends Plan>(plan: Kind): Kind => ({ ...plan, title: sayInEnglish(sayTitle(plan)) });

/** Nearest 5 s, because people read these on a clock. */
const toFive = (seconds: number): number => Math.round(seconds / 5) * 5;
const clamp = (value: number, least: number, most: number): number => Math.min(most, Math.max(least, value));

/** Shortest dry recovery after a hold of this length, up to the next 5 s. */
const leastDryRecoverySeconds = (holdSeconds: number): number =>
  Math.ceil(minimumRecoveryMs(dryMinimumRecovery, holdSeconds * 1_000) / 5_000) * 5;

/**
 * Eight starts, one every four minutes unless told otherwise; the athlete decides when each hold ends.
 * Common practice, no source.
 */
export const makeIntervalSeries = (starts = 8, everySeconds = 240): PlanOf<'intervalSeries'> =>
  titled<PlanOf<'intervalSeries'>>({
    ...untitled(),
    kind: 'intervalSeries',
    starts,
    everySeconds,
    ceilingSeconds: null,
  });

export interface CarbonDioxideTableOptions {
  readonly holdSeconds: number;
  readonly rows: number;
  readonly firstRecoverySeconds: number;
  readonly lastRecoverySeconds: number;
}

/**
 * Carbon-dioxide table: the same hold throughout, recoveries that fall evenly and never below the minimum. Its numbers are
 * the athlete's own (table-basis.ts).
 */
export function makeCarbonDioxideTable(options: CarbonDioxideTableOptions): PlanOf<'holdTable'> {
  const { rows, firstRecoverySeconds, lastRecoverySeconds } = options;
  const ceilingSeconds = clamp(toFive(options.holdSeconds), 5, 900);
  const least = leastDryRecoverySeconds(ceilingSeconds);
  const step = rows < 2 ? 0 : (firstRecoverySeconds - lastRecoverySeconds) / (rows - 1);
  return titled({
    ...untitled(),
    kind: 'holdTable',
    shape: 'carbonDioxide',
    rows: Array.from(
      { length: rows },
      (_, index): PlanRow => ({
        ceilingSeconds,
        recoverySeconds: Math.max(least, toFive(firstRecoverySeconds - index * step)),
      }),
    ),
  });
}

export interface OxygenTableOptions {
  readonly firstHoldSeconds: number;
  readonly lastHoldSeconds: number;
  readonly rows: number;
  readonly recoverySeconds: number;
}

/**
 * Oxygen table: the same recovery throughout, ceilings growing evenly. Where the minimum recovery of the longest row is more
 * than asked for, every recovery is that. Its numbers are the athlete's own (table-basis.ts).
 */
export function makeOxygenTable(options: OxygenTableOptions): PlanOf<'holdTable'> {
  const { firstHoldSeconds, lastHoldSeconds, rows } = options;
  const ceilings = Array.from({ length: rows }, (_, index) => {
    const part = rows === 1 ? 0 : index / (rows - 1);
    return clamp(toFive(firstHoldSeconds + part * (lastHoldSeconds - firstHoldSeconds)), 5, 900);
  });
  const recoverySeconds = Math.max(
    options.recoverySeconds,
    ...ceilings.map((ceilingSeconds) => leastDryRecoverySeconds(ceilingSeconds)),
  );
  return titled({
    ...untitled(),
    kind: 'holdTable',
    shape: 'oxygen',
    rows: ceilings.map((ceilingSeconds) => ({ ceilingSeconds, recoverySeconds })),
  });
}

/** A table from rows written by hand; its shape is recognised where it has one. */
export const makeTableFromRows = (title: string, rows: readonly PlanRow[]): PlanOf<'holdTable'> => ({
  ...head(title),
  kind: 'holdTable',
  shape: recogniseShape(rows),
  rows: [...rows],
});

/** `carbonDioxide`: one hold length, recoveries never growing. `oxygen`: one recovery, holds never shrinking. */
export function recogniseShape(rows: readonly PlanRow[]): 'carbonDioxide' | 'oxygen' | 'own' {
  const recoveries = rows.slice(0, -1).map((row) => row.recoverySeconds);
  const holds = rows.map((row) => row.ceilingSeconds);
  const same = (values: readonly number[]) => values.every((value) => value === values[0]);
  const inOrder = (values: readonly number[], ok: (before: number, after: number) => boolean) =>
    values.slice(1).every((value, index) => ok(values[index] ?? value, value));
  if (rows.length < 2 || (same(holds) && same(recoveries))) return 'own';
  if (same(holds) && inOrder(recoveries, (before, after) => after <= before)) return 'carbonDioxide';
  if (same(recoveries) && inOrder(holds, (before, after) => after >= before)) return 'oxygen';
  return 'own';
}

/**
 * One or two maximal holds after three warm-ups at 40, 50 and 60 % of the longest hold, each followed by twice
 * its length (at least 2 min). Common practice, no source. One attempt unless two are asked for.
 */
export function makeMaximalAttempts(longestHoldSeconds: number, attempts = 1): PlanOf<'maximalAttempts'> {
  const recoveryOf = (holdSeconds: number) =>
    Math.max(120, Math.ceil(minimumRecoveryMs(doubleMinimumRecovery, holdSeconds * 1_000) / 5_000) * 5);
  const warmUps = [0.4, 0.5, 0.6].map((share): PlanRow => {
    const ceilingSeconds = clamp(toFive(longestHoldSeconds * share), 5, 900);
    return { ceilingSeconds, recoverySeconds: recoveryOf(ceilingSeconds) };
  });
  return titled({
    ...untitled(180),
    kind: 'maximalAttempts',
    warmUps,
    attempts,
    betweenAttemptsSeconds: clamp(recoveryOf(longestHoldSeconds), 0, 1_800),
  });
}

/** Rounds of walking on one breath by time, with twice the walk as recovery. Common practice, no source. */
export const makeWalkByTime = (rounds: number, walkSeconds: number): PlanOf<'apneaWalk'> =>
  titled<PlanOf<'apneaWalk'>>({
    ...untitled(),
    kind: 'apneaWalk',
    rounds,
    bound: { by: 'time', ceilingSeconds: walkSeconds },
    stillSeconds: 0,
    recoverySeconds: Math.max(60, walkSeconds * 2),
  });

/** The same by steps at an easy pace of one a second. */
export const makeWalkBySteps = (rounds: number, steps: number): PlanOf<'apneaWalk'> =>
  titled<PlanOf<'apneaWalk'>>({
    ...untitled(),
    kind: 'apneaWalk',
    rounds,
    bound: { by: 'steps', ceilingSteps: steps, paceStepsPerMinute: 60 },
    stillSeconds: 0,
    recoverySeconds: Math.max(60, steps * 2),
  });

export const makeFreeSession = (lengthSeconds = 3_600): PlanOf<'freeSession'> =>
  titled<PlanOf<'freeSession'>>({
    ...untitled(10),
    kind: 'freeSession',
    lengthSeconds,
    ceilingSeconds: null,
  });

export const makePoolIntervals = (
  repetitions: number,
  distanceMeters: number,
  poolLengthMeters: number,
  everySeconds: number,
  breath: 'one' | 'free' = 'free',
): PlanOf<'poolIntervals'> =>
  titled<PlanOf<'poolIntervals'>>({
    ...untitled(30),
    kind: 'poolIntervals',
    repetitions,
    distanceMeters,
    poolLengthMeters,
    everySeconds,
    breath,
    ceilingSeconds: null,
  });

/** The 12-minute distance swim. */
export const makeTwelveMinuteSwim = (poolLengthMeters: number): PlanOf<'timedSwim'> =>
  titled<PlanOf<'timedSwim'>>({
    ...untitled(30),
    kind: 'timedSwim',
    lengthSeconds: 720,
    poolLengthMeters,
  });

/** Metres swum: whole laps and what was done of the next one. Common practice, no source. */
export const swimDistanceMeters = (laps: number, poolLengthMeters: number, furtherMeters = 0): number =>
  laps * poolLengthMeters + furtherMeters;

/** The name a generated plan of this shape has: neutral, says only the shape. */
export function sayTitle(plan: Plan): Said {
  switch (plan.kind) {
    case 'intervalSeries':
      return said('plan.title.intervalSeries', { starts: plan.starts, everyMs: plan.everySeconds * 1_000 });
    case 'holdTable': {
      const longestMs = Math.max(...plan.rows.map((row) => row.ceilingSeconds)) * 1_000;
      // Recoveries that are at their least from the first row on do not shrink.
      const shrinks = plan.rows[0]!.recoverySeconds > (plan.rows.at(-2)?.recoverySeconds ?? Infinity);
      const shape = plan.shape === 'carbonDioxide' && !shrinks ? 'own' : plan.shape;
      return said(`plan.title.${shape}`, { holds: plan.rows.length, longestMs });
    }
    case 'maximalAttempts':
      return said('plan.title.maximalAttempts', { warmUps: plan.warmUps.length, attempts: plan.attempts });
    case 'apneaWalk':
      return plan.bound.by === 'time'
        ? said('plan.title.walkTime', { rounds: plan.rounds, ceilingMs: plan.bound.ceilingSeconds * 1_000 })
        : said('plan.title.walkSteps', { rounds: plan.rounds, steps: plan.bound.ceilingSteps });
    case 'freeSession':
      return said('plan.title.free', { minutes: Math.round(plan.lengthSeconds / 60) });
    case 'poolIntervals':
      return said('plan.title.pool', {
        repetitions: plan.repetitions,
        distanceMeters: plan.distanceMeters,
        everyMs: plan.everySeconds * 1_000,
      });
    case 'timedSwim':
      return said('plan.title.swim', { minutes: Math.round(plan.lengthSeconds / 60) });
  }
}
