// What time alone does to a run: cues before a start, the start, ceilings, checks and limits, in order of time.

import type { CurrentEffort } from './plan-run-state.ts';
import {
  type Draft,
  type DraftAthleteRun,
  endsByClock,
  minimumAfterLast,
  planRunRules,
  say,
  stepOfCurrent,
} from './run-draft.ts';
import { beginEffort, endEffort } from './run-efforts.ts';
import {
  closeOpenStep,
  endAthleteRun,
  leaveOut,
  openStep,
  settle,
  waitIfNotReady,
  windDown,
} from './run-starts.ts';

interface Due {
  readonly atMs: number;
  readonly act: () => void;
}

export function advance(run: Draft, toMs: number): void {
  for (;;) {
    let first: Due | undefined;
    for (const athleteRun of run.athleteRuns)
      for (const due of duesOf(run, athleteRun))
        if (first === undefined || due.atMs < first.atMs) first = due;
    if (first === undefined || first.atMs > toMs) break;
    run.nowMs = Math.max(run.nowMs, first.atMs);
    first.act();
    settle(run);
  }
  run.nowMs = Math.max(run.nowMs, toMs);
}

/** Everything that time alone will do to an athlete's run next. Earlier entries go first at equal times. */
function duesOf(run: Draft, athleteRun: DraftAthleteRun): readonly Due[] {
  const dues: Due[] = [];
  const due = (atMs: number, act: () => void) => dues.push({ atMs: Math.max(atMs, run.nowMs), act });
  if (athleteRun.phase === 'ended') return dues;
  if (athleteRun.current !== null) {
    effortDues(run, athleteRun, athleteRun.current, due);
    return dues;
  }
  if (athleteRun.pausedAtMs !== null)
    due(athleteRun.pausedAtMs + planRunRules.pauseLimitMs, () =>
      endAthleteRun(run, athleteRun, 'pausedTooLong'),
    );
  switch (athleteRun.phase) {
    case 'waiting':
      if (athleteRun.pausedAtMs === null) startDues(run, athleteRun, due);
      break;
    case 'open':
      due((athleteRun.openedAtMs ?? run.nowMs) + planRunRules.openLimitMs, () => {
        closeOpenStep(run, athleteRun, 'notStarted');
      });
      break;
    case 'stopped':
      due((athleteRun.abortedAtMs ?? run.nowMs) + planRunRules.choiceLimitMs, () =>
        endAthleteRun(run, athleteRun, 'stoppedAfterAbort'),
      );
      break;
    case 'free': {
      if (!athleteRun.minimumOverCued && athleteRun.lastEndAtMs !== null)
        due(athleteRun.lastEndAtMs + minimumAfterLast(run, athleteRun), () => {
          athleteRun.minimumOverCued = true;
          say(run, athleteRun, 'minimumOver');
        });
      const lengthMs = run.plan.kind === 'freeSession' ? run.plan.lengthSeconds * 1_000 : 0;
      due(athleteRun.nominalStartAtMs + lengthMs, () => windDown(run, athleteRun));
      break;
    }
    case 'watching':
      due((athleteRun.lastEndAtMs ?? run.nowMs) + planRunRules.watchMs, () =>
        endAthleteRun(run, athleteRun, 'complete'),
      );
      break;
  }
  return dues;
}

function startDues(
  run: Draft,
  athleteRun: DraftAthleteRun,
  due: (atMs: number, act: () => void) => void,
): void {
  const planned = athleteRun.plannedStartAtMs;
  if (planned === null) {
    if (!run.away)
      due((athleteRun.waitingSinceMs ?? run.nowMs) + planRunRules.waitLimitMs, () =>
        leaveOut(run, athleteRun, 'notReady'),
      );
    return;
  }
  const before = planRunRules.cuesBeforeStartMs.find(
    (beforeMs) => beforeMs < athleteRun.cuedBeforeMs && planned - beforeMs >= athleteRun.plannedSetAtMs,
  );
  if (before !== undefined)
    due(planned - before, () => {
      athleteRun.cuedBeforeMs = before;
      if (before > planRunRules.countdownMs) say(run, athleteRun, 'prepare');
      else if (before === planRunRules.countdownMs) {
        // In the hub's absence the start itself says what becomes of it.
        if (run.away || !waitIfNotReady(run, athleteRun)) say(run, athleteRun, 'countdown');
      } else say(run, athleteRun, 'tick', { secondsLeft: before / 1_000 });
    });
  due(planned, () => giveStart(run, athleteRun));
}

function effortDues(
  run: Draft,
  athleteRun: DraftAthleteRun,
  current: CurrentEffort,
  due: (atMs: number, act: () => void) => void,
): void {
  const step = stepOfCurrent(athleteRun);
  const swims = step?.effort === 'swim';
  const update = (change: Partial<CurrentEffort>) => {
    if (athleteRun.current !== null) athleteRun.current = { ...athleteRun.current, ...change };
  };
  const { startedAtMs, ceilingMs } = current;
  if (ceilingMs !== null) {
    const ceilingAtMs = startedAtMs + ceilingMs;
    if (!current.nearCued && !swims && ceilingMs >= planRunRules.leastCeilingForNearMs)
      due(ceilingAtMs - planRunRules.ceilingNearMs, () => {
        update({ nearCued: true });
        if (run.nowMs < ceilingAtMs) say(run, athleteRun, 'ceilingNear');
      });
    if (!current.breatheCued)
      due(ceilingAtMs, () => {
        update({ breatheCued: true });
        say(run, athleteRun, swims ? 'timeUp' : 'breathe');
        if (endsByClock(run, athleteRun, current))
          endEffort(run, athleteRun, ceilingAtMs, swims ? 'clock' : 'assumed', null);
      });
  }
  if (!swims)
    due(
      current.lastCheckAtMs === null
        ? startedAtMs +
            (ceilingMs === null ? planRunRules.checkWithoutCeilingMs : ceilingMs + planRunRules.checkAfterMs)
        : current.lastCheckAtMs + planRunRules.checkEveryMs,
      () => {
        update({ lastCheckAtMs: run.nowMs });
        say(run, athleteRun, 'check');
      },
    );
  due(startedAtMs + Math.max(planRunRules.openEffortLimitMs, (ceilingMs ?? 0) + planRunRules.watchMs), () =>
    endAthleteRun(run, athleteRun, 'noEndSeen'),
  );
}

function giveStart(run: Draft, athleteRun: DraftAthleteRun): void {
  const step = athleteRun.steps[athleteRun.nextIndex];
  if (step === undefined) {
    windDown(run, athleteRun);
    return;
  }
  // A start on the clock that fell in the hub's absence is gone; the next one keeps its place on the clock.
  if (run.away && step.next.by === 'every') {
    leaveOut(run, athleteRun, 'missed');
    return;
  }
  if (waitIfNotReady(run, athleteRun)) return;
  say(run, athleteRun, step.effort === 'swim' || step.effort === 'oneBreathSwim' ? 'startSwim' : 'start');
  openStep(athleteRun, run.nowMs);
  athleteRun.phase = 'open';
  athleteRun.openedAtMs = run.nowMs;
  const onTheClock = step.effort === 'swim' || step.effort === 'oneBreathSwim';
  if (onTheClock || run.options.assumeFromCues)
    beginEffort(
      run,
      athleteRun,
      athleteRun.records.length - 1,
      run.nowMs,
      onTheClock ? 'clock' : 'assumed',
      null,
    );
}
