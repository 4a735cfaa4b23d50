// What time alone does to a run: cues before a start, the start, ceilings, checks and limits, in order of time.

import type { CurrentEffort } from './plan-run-state.ts';
import {
  type Draft,
  type DraftLane,
  endsByClock,
  minimumAfterLast,
  planRunRules,
  say,
  stepOfCurrent,
} from './run-draft.ts';
import { beginEffort, endEffort } from './run-efforts.ts';
import {
  closeOpenStep,
  endLane,
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
    for (const lane of run.lanes)
      for (const due of duesOf(run, lane)) if (first === undefined || due.atMs < first.atMs) first = due;
    if (first === undefined || first.atMs > toMs) break;
    run.nowMs = Math.max(run.nowMs, first.atMs);
    first.act();
    settle(run);
  }
  run.nowMs = Math.max(run.nowMs, toMs);
}

/** Everything that time alone will do to a lane next. Earlier entries go first at equal times. */
function duesOf(run: Draft, lane: DraftLane): readonly Due[] {
  const dues: Due[] = [];
  const due = (atMs: number, act: () => void) => dues.push({ atMs: Math.max(atMs, run.nowMs), act });
  if (lane.phase === 'ended') return dues;
  if (lane.current !== null) {
    effortDues(run, lane, lane.current, due);
    return dues;
  }
  if (lane.pausedAtMs !== null)
    due(lane.pausedAtMs + planRunRules.pauseLimitMs, () => endLane(run, lane, 'pausedTooLong'));
  switch (lane.phase) {
    case 'waiting':
      if (lane.pausedAtMs === null) startDues(run, lane, due);
      break;
    case 'open':
      due((lane.openedAtMs ?? run.nowMs) + planRunRules.openLimitMs, () => {
        closeOpenStep(run, lane, 'notStarted');
      });
      break;
    case 'stopped':
      due((lane.abortedAtMs ?? run.nowMs) + planRunRules.choiceLimitMs, () =>
        endLane(run, lane, 'stoppedAfterAbort'),
      );
      break;
    case 'free': {
      if (!lane.minimumOverCued && lane.lastEndAtMs !== null)
        due(lane.lastEndAtMs + minimumAfterLast(run, lane), () => {
          lane.minimumOverCued = true;
          say(run, lane, 'minimumOver');
        });
      const lengthMs = run.plan.kind === 'freeSession' ? run.plan.lengthSeconds * 1_000 : 0;
      due(lane.nominalStartAtMs + lengthMs, () => windDown(run, lane));
      break;
    }
    case 'watching':
      due((lane.lastEndAtMs ?? run.nowMs) + planRunRules.watchMs, () => endLane(run, lane, 'complete'));
      break;
  }
  return dues;
}

function startDues(run: Draft, lane: DraftLane, due: (atMs: number, act: () => void) => void): void {
  const planned = lane.plannedStartAtMs;
  if (planned === null) {
    if (!run.away)
      due((lane.waitingSinceMs ?? run.nowMs) + planRunRules.waitLimitMs, () =>
        leaveOut(run, lane, 'notReady'),
      );
    return;
  }
  const before = planRunRules.cuesBeforeStartMs.find(
    (beforeMs) => beforeMs < lane.cuedBeforeMs && planned - beforeMs >= lane.plannedSetAtMs,
  );
  if (before !== undefined)
    due(planned - before, () => {
      lane.cuedBeforeMs = before;
      if (before > planRunRules.countdownMs) say(run, lane, 'prepare');
      else if (before === planRunRules.countdownMs) {
        // In the hub's absence the start itself says what becomes of it.
        if (run.away || !waitIfNotReady(run, lane)) say(run, lane, 'countdown');
      } else say(run, lane, 'tick', { secondsLeft: before / 1_000 });
    });
  due(planned, () => giveStart(run, lane));
}

function effortDues(
  run: Draft,
  lane: DraftLane,
  current: CurrentEffort,
  due: (atMs: number, act: () => void) => void,
): void {
  const step = stepOfCurrent(lane);
  const swims = step?.effort === 'swim';
  const update = (change: Partial<CurrentEffort>) => {
    if (lane.current !== null) lane.current = { ...lane.current, ...change };
  };
  const { startedAtMs, ceilingMs } = current;
  if (ceilingMs !== null) {
    const ceilingAtMs = startedAtMs + ceilingMs;
    if (!current.nearCued && !swims && ceilingMs >= planRunRules.leastCeilingForNearMs)
      due(ceilingAtMs - planRunRules.ceilingNearMs, () => {
        update({ nearCued: true });
        if (run.nowMs < ceilingAtMs) say(run, lane, 'ceilingNear');
      });
    if (!current.breatheCued)
      due(ceilingAtMs, () => {
        update({ breatheCued: true });
        say(run, lane, swims ? 'timeUp' : 'breathe');
        if (endsByClock(run, lane, current))
          endEffort(run, lane, ceilingAtMs, swims ? 'clock' : 'assumed', null);
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
        say(run, lane, 'check');
      },
    );
  due(startedAtMs + Math.max(planRunRules.openEffortLimitMs, (ceilingMs ?? 0) + planRunRules.watchMs), () =>
    endLane(run, lane, 'noEndSeen'),
  );
}

function giveStart(run: Draft, lane: DraftLane): void {
  const step = lane.steps[lane.nextIndex];
  if (step === undefined) {
    windDown(run, lane);
    return;
  }
  // A start on the clock that fell in the hub's absence is gone; the next one keeps its place on the clock.
  if (run.away && step.next.by === 'every') {
    leaveOut(run, lane, 'missed');
    return;
  }
  if (waitIfNotReady(run, lane)) return;
  say(run, lane, step.effort === 'swim' || step.effort === 'oneBreathSwim' ? 'startSwim' : 'start');
  openStep(lane, run.nowMs);
  lane.phase = 'open';
  lane.openedAtMs = run.nowMs;
  const onTheClock = step.effort === 'swim' || step.effort === 'oneBreathSwim';
  if (onTheClock || run.options.assumeFromCues)
    beginEffort(run, lane, lane.records.length - 1, run.nowMs, onTheClock ? 'clock' : 'assumed', null);
}
