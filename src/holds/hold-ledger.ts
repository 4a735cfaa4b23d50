// The holds of one athlete as they are said live: the one under way, the last one, their ids, and what marks do to them.
// Marks win over signals; a hold keeps its id through every revision.

import type { Phase } from '../../shared/schema-parts.ts';
import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import type { Mark } from '../samples/mark.ts';
import type { Boundary, BoundaryEvidence, Hold, HoldEvent, WithdrawReason } from './hold.ts';

/** A mark this near an estimate names the same boundary. */
const sameBoundaryMs = 45_000;
/** Marks that can still be taken back. A choice. */
const mostMarks = 200;

export interface WorkingHold {
  readonly holdId: string;
  start: Boundary;
  end: Boundary | undefined;
  contractions: MonotonicMs[];
  startMarkId: string | undefined;
  endMarkId: string | undefined;
  estimatedStart: Boundary | undefined;
  estimatedEnd: Boundary | undefined;
}

export const asHold = (working: WorkingHold): Hold => ({
  holdId: working.holdId,
  start: working.start,
  ...(working.end !== undefined && { end: working.end }),
  contractionsAtMs: [...working.contractions],
});

export const markBoundary = (mark: Mark): Boundary => ({
  atMs: mark.atMs,
  uncertaintyMs: 0,
  declaredAtMs: mark.atMs,
  source: 'mark',
  evidence: ['marked'],
});

export interface HoldLedger {
  readonly current: WorkingHold | undefined;
  readonly previous: WorkingHold | undefined;
  readonly endedCount: number;
  readonly phase: Phase;
  /** What was said since the last call, in order. */
  takeEvents(): HoldEvent[];
  begin(start: Boundary): void;
  finish(end: Boundary): void;
  withdraw(atMs: number, reason: WithdrawReason): void;
  reviseStart(start: Boundary): void;
  setPhase(phase: Phase, atMs: number): void;
  mark(mark: Mark, nowMs: number): void;
  /** True when the hold under way went with its mark. */
  removeMark(markId: string, nowMs: number): boolean;
}

/** Makes an empty ledger; `holdIdPrefix` stands before each hold's number. */
export function createHoldLedger(holdIdPrefix: string): HoldLedger {
  let current: WorkingHold | undefined;
  let previous: WorkingHold | undefined;
  let phase: Phase = 'unknown';
  let holdCount = 0;
  let endedCount = 0;
  let events: HoldEvent[] = [];
  const marks = new Map<string, Mark>();

  const setPhase = (next: Phase, atMs: number): void => {
    if (next === phase) return;
    phase = next;
    events.push({ type: 'phaseChanged', atMs: monotonicMs(atMs), phase });
  };
  const revised = (working: WorkingHold): void => {
    events.push({ type: 'holdRevised', hold: asHold(working) });
  };
  const begin = (start: Boundary, startMarkId: string | undefined, nowMs: number): void => {
    holdCount += 1;
    current = {
      holdId: `${holdIdPrefix}${holdCount}`,
      start,
      end: undefined,
      contractions: [],
      startMarkId,
      endMarkId: undefined,
      estimatedStart: undefined,
      estimatedEnd: undefined,
    };
    events.push({ type: 'holdStarted', hold: asHold(current) });
    setPhase('holding', nowMs);
  };
  const finish = (end: Boundary, nowMs: number): void => {
    const working = current!;
    working.end = end;
    endedCount += 1;
    previous = working;
    current = undefined;
    events.push({ type: 'holdEnded', hold: asHold(working) });
    setPhase('recovering', nowMs);
  };
  const withdrawn = (holdId: string, atMs: number, reason: WithdrawReason): void => {
    events.push({ type: 'holdWithdrawn', holdId, atMs: monotonicMs(atMs), reason });
  };
  const finishAtMark = (
    mark: Mark,
    uncertaintyMs: number,
    evidence: BoundaryEvidence,
    nowMs: number,
  ): void => {
    const atMs = monotonicMs(Math.max(current!.start.atMs, mark.atMs));
    finish({ ...markBoundary(mark), atMs, uncertaintyMs, source: 'detected', evidence: [evidence] }, nowMs);
  };

  const onStartMark = (mark: Mark, nowMs: number): void => {
    if (
      current !== undefined &&
      current.startMarkId === undefined &&
      Math.abs(current.start.atMs - mark.atMs) <= sameBoundaryMs
    ) {
      current.estimatedStart = current.start;
      current.start = markBoundary(mark);
      current.startMarkId = mark.markId;
      revised(current);
      return;
    }
    if (current !== undefined) finishAtMark(mark, 10_000, 'newStartMarked', nowMs);
    begin(markBoundary(mark), mark.markId, nowMs);
  };
  const onEndMark = (mark: Mark, nowMs: number): void => {
    if (current !== undefined && mark.atMs > current.start.atMs) {
      current.endMarkId = mark.markId;
      finish(markBoundary(mark), nowMs);
    } else if (
      previous?.end !== undefined &&
      previous.endMarkId === undefined &&
      Math.abs(previous.end.atMs - mark.atMs) <= sameBoundaryMs &&
      mark.atMs > previous.start.atMs
    ) {
      previous.estimatedEnd = previous.end;
      previous.end = markBoundary(mark);
      previous.endMarkId = mark.markId;
      revised(previous);
    }
  };

  /** Gives the last hold back what was estimated before the mark; a hold that rested on its mark alone goes. */
  const unmarkPrevious = (markId: string, nowMs: number): void => {
    if (previous === undefined) return;
    if (previous.endMarkId === markId && previous.estimatedEnd !== undefined) {
      previous.end = previous.estimatedEnd;
      previous.endMarkId = undefined;
      revised(previous);
    } else if (previous.startMarkId === markId && previous.estimatedStart !== undefined) {
      previous.start = previous.estimatedStart;
      previous.startMarkId = undefined;
      revised(previous);
    } else if (previous.startMarkId === markId) {
      withdrawn(previous.holdId, nowMs, 'markRemoved');
      previous = undefined;
    }
  };

  return {
    get current() {
      return current;
    },
    get previous() {
      return previous;
    },
    get endedCount() {
      return endedCount;
    },
    get phase() {
      return phase;
    },
    takeEvents() {
      const taken = events;
      events = [];
      return taken;
    },
    begin: (start) => begin(start, undefined, start.declaredAtMs),
    finish: (end) => finish(end, end.declaredAtMs),
    withdraw(atMs, reason) {
      withdrawn(current!.holdId, atMs, reason);
      current = undefined;
      setPhase('resting', atMs);
    },
    reviseStart(start) {
      current!.start = start;
      revised(current!);
    },
    setPhase,
    mark(mark, nowMs) {
      if (marks.size > mostMarks) marks.delete(marks.keys().next().value!);
      marks.set(mark.markId, mark);
      if (mark.kind === 'holdStart') onStartMark(mark, nowMs);
      else if (mark.kind === 'holdEnd') onEndMark(mark, nowMs);
      else if (mark.kind === 'breathing') {
        if (current !== undefined && mark.atMs > current.start.atMs)
          finishAtMark(mark, 3_000, 'breathingMarked', nowMs);
      } else if (mark.kind === 'contraction' && current !== undefined && mark.atMs >= current.start.atMs) {
        current.contractions.push(mark.atMs);
        revised(current);
      }
    },
    removeMark(markId, nowMs) {
      const mark = marks.get(markId);
      marks.delete(markId);
      if (mark?.kind === 'contraction') {
        for (const working of [current, previous]) {
          const at = working?.contractions.indexOf(mark.atMs) ?? -1;
          if (working !== undefined && at >= 0) {
            working.contractions.splice(at, 1);
            revised(working);
          }
        }
      }
      if (current === undefined || current.startMarkId !== markId) {
        unmarkPrevious(markId, nowMs);
        return false;
      }
      if (current.estimatedStart !== undefined) {
        current.start = current.estimatedStart;
        current.startMarkId = undefined;
        revised(current);
        return false;
      }
      withdrawn(current.holdId, nowMs, 'markRemoved');
      current = undefined;
      setPhase('resting', nowMs);
      return true;
    },
  };
}
