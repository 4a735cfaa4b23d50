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
  /** When a person said that it had begun; undefined while nobody has. */
  startSaidAtMs: number | undefined;
  endMarkId: string | undefined;
  estimatedStart: Boundary | undefined;
  estimatedEnd: Boundary | undefined;
  probableEnd: Boundary | undefined;
  /** Somebody said, asked whether it has ended, that it has not. */
  stillHolding: Mark | undefined;
}

export const asHold = (working: WorkingHold): Hold => ({
  holdId: working.holdId,
  start: working.start,
  ...(working.end !== undefined && { end: working.end }),
  ...(working.end === undefined && working.probableEnd !== undefined && { probableEnd: working.probableEnd }),
  contractionsAtMs: [...working.contractions],
});

/** The number in a hold's id; 0 for an id of another make. */
const numberOf = (holdId: string, prefix: string): number =>
  holdId.startsWith(prefix) ? Number.parseInt(holdId.slice(prefix.length), 10) || 0 : 0;

const markBoundary = (mark: Mark): Boundary => ({
  atMs: mark.atMs,
  uncertaintyMs: 0,
  declaredAtMs: mark.atMs,
  source: 'mark',
  evidence: ['marked'],
});

const noEvents: readonly HoldEvent[] = [];

export interface HoldLedger {
  readonly current: WorkingHold | undefined;
  readonly previous: WorkingHold | undefined;
  readonly endedCount: number;
  readonly phase: Phase;
  /** What was said since the last call, in order. */
  takeEvents(): readonly HoldEvent[];
  begin(start: Boundary): void;
  finish(end: Boundary): void;
  /** The hold under way is over as far as signals say, or, with undefined, it is not after all. It goes on either way. */
  setProbableEnd(end: Boundary | undefined): void;
  withdraw(atMs: number, reason: WithdrawReason): void;
  reviseStart(start: Boundary): void;
  setPhase(phase: Phase, atMs: number): void;
  /** These holds were told before; they stand. A newer one that was found beside them goes on under a number of its own. */
  adopt(known: readonly Hold[], nowMs: number): void;
  mark(mark: Mark, nowMs: number): void;
  /** True when the hold under way went with its mark. */
  removeMark(markId: string, nowMs: number): boolean;
}

/** Makes an empty ledger; `holdIdPrefix` stands before each hold's number. */
export function createHoldLedger(holdIdPrefix: string, holdsBefore = 0): HoldLedger {
  return new Ledger(holdIdPrefix, holdsBefore);
}

class Ledger implements HoldLedger {
  current: WorkingHold | undefined;
  previous: WorkingHold | undefined;
  endedCount = 0;
  phase: Phase = 'unknown';
  readonly #holdIdPrefix: string;
  #holdCount = 0;
  #events: HoldEvent[] = [];
  readonly #marks = new Map<string, Mark>();

  constructor(holdIdPrefix: string, holdsBefore: number) {
    this.#holdIdPrefix = holdIdPrefix;
    this.#holdCount = holdsBefore;
  }

  takeEvents(): readonly HoldEvent[] {
    if (this.#events.length === 0) return noEvents;
    const taken = this.#events;
    this.#events = [];
    return taken;
  }

  begin(start: Boundary): void {
    this.#begin(start, undefined, start.declaredAtMs);
  }

  finish(end: Boundary): void {
    this.#finish(end, end.declaredAtMs);
  }

  setProbableEnd(end: Boundary | undefined): void {
    this.current!.probableEnd = end;
    this.#revised(this.current!);
  }

  withdraw(atMs: number, reason: WithdrawReason): void {
    this.#withdrawn(this.current!.holdId, atMs, reason);
    this.current = undefined;
    this.setPhase('resting', atMs);
  }

  reviseStart(start: Boundary): void {
    this.current!.start = start;
    this.#revised(this.current!);
  }

  setPhase(next: Phase, atMs: number): void {
    if (next === this.phase) return;
    this.phase = next;
    this.#events.push({ type: 'phaseChanged', atMs: monotonicMs(atMs), phase: next });
  }

  adopt(known: readonly Hold[], nowMs: number): void {
    const ordered = [...known].sort((a, b) => a.start.atMs - b.start.atMs);
    const open = ordered.findLast((hold) => hold.end === undefined);
    const ended = ordered.findLast((hold) => hold.end !== undefined);
    const found = this.current;
    for (const { holdId } of known)
      this.#holdCount = Math.max(this.#holdCount, numberOf(holdId, this.#holdIdPrefix));
    this.endedCount = ordered.filter((hold) => hold.end !== undefined).length;
    if (ended !== undefined && this.previous?.holdId !== ended.holdId)
      this.previous = this.#workingOf(ended, undefined);
    if (open !== undefined) this.#adoptOpen(open, found);
    else if (found !== undefined && found.start.atMs <= (ended?.end?.atMs ?? Number.NEGATIVE_INFINITY)) {
      // It was told to be over.
      this.#withdrawn(found.holdId, nowMs, 'markRemoved');
      this.current = undefined;
      this.setPhase('recovering', nowMs);
    } else if (found !== undefined) {
      // Found in the last moment, and never told.
      this.#holdCount = Math.max(this.#holdCount, known.length) + 1;
      this.current = { ...found, holdId: `${this.#holdIdPrefix}${this.#holdCount}` };
      this.#events.push({ type: 'holdStarted', hold: asHold(this.current) });
    }
  }

  /** The hold under way keeps its id and its start. */
  #adoptOpen(open: Hold, found: WorkingHold | undefined): void {
    if (found?.holdId === open.holdId) {
      if (found.start.atMs === open.start.atMs) return;
      found.start = open.start;
      this.#revised(found);
      return;
    }
    this.current = this.#workingOf(open, found);
    this.#events.push({ type: 'holdStarted', hold: asHold(this.current) });
    this.setPhase('holding', open.start.declaredAtMs);
  }

  #workingOf({ holdId, start, end, contractionsAtMs }: Hold, found: WorkingHold | undefined): WorkingHold {
    const mark = [...this.#marks.values()].find(
      ({ kind, atMs }) => kind === 'holdStart' && start.source === 'mark' && atMs === start.atMs,
    );
    return {
      holdId,
      start,
      end,
      contractions: [...contractionsAtMs],
      startMarkId: mark?.markId ?? (start.source === 'mark' ? `known-${holdId}` : undefined),
      startSaidAtMs: start.source === 'mark' ? start.declaredAtMs : undefined,
      endMarkId: undefined,
      estimatedStart: found?.estimatedStart,
      estimatedEnd: undefined,
      probableEnd: found?.probableEnd,
      stillHolding: found?.stillHolding,
    };
  }

  mark(mark: Mark, nowMs: number): void {
    if (this.#marks.size > mostMarks) this.#marks.delete(this.#marks.keys().next().value!);
    this.#marks.set(mark.markId, mark);
    if (mark.kind === 'holdStart') this.#startMarked(mark, nowMs);
    else if (mark.kind === 'holdEnd') this.#endMarked(mark, nowMs);
    else if (mark.kind === 'breathing') this.#breathingMarked(mark, nowMs);
    else if (mark.kind === 'contraction') this.#contractionMarked(mark);
    else if (mark.kind === 'stillHolding') this.#stillHoldingMarked(mark);
  }

  removeMark(markId: string, nowMs: number): boolean {
    const mark = this.#marks.get(markId);
    this.#marks.delete(markId);
    if (mark?.kind === 'contraction') this.#unmarkContraction(mark);
    if (this.current?.stillHolding?.markId === markId) this.current.stillHolding = undefined;
    const { current } = this;
    if (current === undefined || current.startMarkId !== markId) {
      this.#unmarkPrevious(markId, nowMs);
      return false;
    }
    if (current.estimatedStart !== undefined) {
      this.#backToEstimatedStart(current, current.estimatedStart);
      return false;
    }
    this.withdraw(nowMs, 'markRemoved');
    return true;
  }

  #begin(start: Boundary, startMarkId: string | undefined, nowMs: number): void {
    this.#holdCount += 1;
    this.current = {
      holdId: `${this.#holdIdPrefix}${this.#holdCount}`,
      start,
      end: undefined,
      contractions: [],
      startMarkId,
      startSaidAtMs: startMarkId === undefined ? undefined : nowMs,
      endMarkId: undefined,
      estimatedStart: undefined,
      estimatedEnd: undefined,
      probableEnd: undefined,
      stillHolding: undefined,
    };
    this.#events.push({ type: 'holdStarted', hold: asHold(this.current) });
    this.setPhase('holding', nowMs);
  }

  #finish(end: Boundary, nowMs: number): void {
    const working = this.current!;
    working.end = end;
    this.endedCount += 1;
    this.previous = working;
    this.current = undefined;
    this.#events.push({ type: 'holdEnded', hold: asHold(working) });
    this.setPhase('recovering', nowMs);
  }

  #revised(working: WorkingHold): void {
    this.#events.push({ type: 'holdRevised', hold: asHold(working) });
  }

  #withdrawn(holdId: string, atMs: number, reason: WithdrawReason): void {
    this.#events.push({ type: 'holdWithdrawn', holdId, atMs: monotonicMs(atMs), reason });
  }

  #finishAtMark(mark: Mark, uncertaintyMs: number, evidence: BoundaryEvidence, nowMs: number): void {
    const atMs = monotonicMs(Math.max(this.current!.start.atMs, mark.atMs));
    this.#finish(
      { ...markBoundary(mark), atMs, uncertaintyMs, source: 'detected', evidence: [evidence] },
      nowMs,
    );
  }

  #startMarked(mark: Mark, nowMs: number): void {
    const { current } = this;
    if (
      current !== undefined &&
      current.startMarkId === undefined &&
      Math.abs(current.start.atMs - mark.atMs) <= sameBoundaryMs
    ) {
      current.estimatedStart = current.start;
      current.start = markBoundary(mark);
      current.startMarkId = mark.markId;
      current.startSaidAtMs = nowMs;
      this.#revised(current);
      return;
    }
    if (current?.probableEnd !== undefined && current.probableEnd.atMs < mark.atMs)
      this.#finish({ ...current.probableEnd, declaredAtMs: monotonicMs(nowMs) }, nowMs);
    else if (current !== undefined) this.#finishAtMark(mark, 10_000, 'newStartMarked', nowMs);
    this.#begin(markBoundary(mark), mark.markId, nowMs);
  }

  #endMarked(mark: Mark, nowMs: number): void {
    const { current, previous } = this;
    if (current !== undefined && mark.atMs > current.start.atMs) {
      current.endMarkId = mark.markId;
      this.#finish(markBoundary(mark), nowMs);
    } else if (
      previous?.end !== undefined &&
      previous.endMarkId === undefined &&
      Math.abs(previous.end.atMs - mark.atMs) <= sameBoundaryMs &&
      mark.atMs > previous.start.atMs
    ) {
      previous.estimatedEnd = previous.end;
      previous.end = markBoundary(mark);
      previous.endMarkId = mark.markId;
      this.#revised(previous);
    }
  }

  #breathingMarked(mark: Mark, nowMs: number): void {
    if (this.current !== undefined && mark.atMs > this.current.start.atMs)
      this.#finishAtMark(mark, 3_000, 'breathingMarked', nowMs);
  }

  /** It is not over: whatever was taken for its end was none. Of a hold that only signals name, it changes nothing. */
  #stillHoldingMarked(mark: Mark): void {
    const { current } = this;
    if (current?.startMarkId === undefined || mark.atMs < current.start.atMs) return;
    current.stillHolding = mark;
    if (current.probableEnd !== undefined) this.setProbableEnd(undefined);
  }

  #contractionMarked(mark: Mark): void {
    if (this.current === undefined || mark.atMs < this.current.start.atMs) return;
    this.current.contractions.push(mark.atMs);
    this.#revised(this.current);
  }

  #unmarkContraction(mark: Mark): void {
    for (const working of [this.current, this.previous]) {
      const at = working?.contractions.indexOf(mark.atMs) ?? -1;
      if (working === undefined || at < 0) continue;
      working.contractions.splice(at, 1);
      this.#revised(working);
    }
  }

  #backToEstimatedStart(working: WorkingHold, start: Boundary): void {
    working.start = start;
    working.startMarkId = undefined;
    working.startSaidAtMs = undefined;
    working.probableEnd = undefined;
    this.#revised(working);
  }

  /** Gives the last hold back what was estimated before the mark; a hold that rested on its mark alone goes. */
  #unmarkPrevious(markId: string, nowMs: number): void {
    const { previous } = this;
    if (previous === undefined) return;
    if (previous.endMarkId === markId && previous.estimatedEnd !== undefined) {
      previous.end = previous.estimatedEnd;
      previous.endMarkId = undefined;
      this.#revised(previous);
    } else if (previous.startMarkId === markId && previous.estimatedStart !== undefined) {
      this.#backToEstimatedStart(previous, previous.estimatedStart);
    } else if (previous.startMarkId === markId) {
      this.#withdrawn(previous.holdId, nowMs, 'markRemoved');
      this.previous = undefined;
    }
  }
}
