// The live detector: rows from samples, what is believed of them, marks, and the decisions that a page shows.
// Marks win over signals; a hold keeps its id through every revision.

import type { Phase } from '../../shared/schema-parts.ts';
import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import type { Mark } from '../samples/mark.ts';
import { createSecondRows, type SecondRow } from '../signal/second-rows.ts';
import { endEvidence, startEvidence } from './boundary-evidence.ts';
import type { Boundary, DetectorEvent, Hold, HoldDetector, HoldEvent } from './hold.ts';
import { createHoldBelief } from './hold-belief.ts';
import { practiceRowsPerHold } from './hold-field.ts';
import { boundaryMsBefore } from './later-network.ts';

export interface HoldDetectorOptions {
  /** Put before each hold's number, so that ids of several athletes differ. */
  readonly holdIdPrefix?: string;
}

/** Shorter stillness than this is a pause or a swallow, not a hold. A choice. */
const shortestHoldMs = 8_000;
/** Say "start" at this probability, "end" below the other. Choices, checked by the accuracy bench. */
const startAt = 0.7;
const endBelow = 0.15;
/** From here on a start is said even when the looking back does not show it yet. A choice. */
const sureAt = 0.9;
/** How long before it is likelier than not a hold has begun, when nothing better is known; about as uncertain. */
const noticedAfterMs = 7_000;
/** Without the looking back's consent an end is said when holding has been unlikely for this long. A choice. */
const alonePastMs = 6_000;
/**
 * A person who marked the start is believed longer than the signals: an end that is said too early would stop the
 * forecast of a hold still under way. A choice.
 */
const markedDoubtMs = 20_000;
/** A start is looked at again when it is this old, rows: later seconds tell more of it. Choices. */
const reviseAtRows = [20, 40] as const;
/**
 * A person who has long been without a hold is the less likely to begin one, as hold-field.ts has it of a recording: the
 * practice sessions' own rate counts as this many holds, and no more than so many nats are taken off. Choices.
 */
const practiceWeightHolds = 5;
const mostRarer = 3;
/** When the looking back does not agree with a start, ask again after this many rows. A choice. */
const askAgainRows = 3;
/** A planned start makes a hold likelier from its tolerance before to this long after. Choices. */
const plannedLogOdds = 1.5;
const plannedForMs = 60_000;
/** A hold whose start was marked, yet which the signals never show, is left open this long. A choice. */
const unseenMs = 180_000;
/** A mark this near an estimate names the same boundary. */
const sameBoundaryMs = 45_000;
/** Recovery as a phase lasts this long: finger saturation is still falling for up to 40 s (3.27). */
const recoveringMs = 60_000;

interface Working {
  holdId: string;
  start: Boundary;
  end: Boundary | undefined;
  contractions: MonotonicMs[];
  startMarkId: string | undefined;
  endMarkId: string | undefined;
  estimatedStart: Boundary | undefined;
  estimatedEnd: Boundary | undefined;
}

const asHold = (working: Working): Hold => ({
  holdId: working.holdId,
  start: working.start,
  ...(working.end !== undefined && { end: working.end }),
  contractionsAtMs: [...working.contractions],
});

/** Makes a detector for one athlete. Deterministic; time only comes in with events. */
export function createHoldDetector(options: HoldDetectorOptions = {}): HoldDetector {
  const rows = createSecondRows();
  const belief = createHoldBelief();
  let nowMs = 0;
  let phase: Phase = 'unknown';
  let current: Working | undefined;
  let previous: Working | undefined;
  let holdCount = 0;
  let endedCount = 0;
  let rowsSeen = 0;
  let planned: { startAtMs: number; toleranceMs: number } | undefined;
  const markKinds = new Map<string, Mark>();
  /** Since when a hold has been likelier than not, without a break; and since when it has not. */
  let likelySinceMs: number | undefined;
  let unlikelySinceMs: number | undefined = 0;
  /** The signals have shown the hold under way. */
  let seen = false;
  /** The signals have shown breathing since the last end. */
  let breathedSince = true;
  let askAt = 0;
  let declaredAtRow = 0;

  const nextId = (): string => {
    holdCount += 1;
    return `${options.holdIdPrefix ?? 'hold-'}${holdCount}`;
  };
  const markBoundary = (mark: Mark): Boundary => ({
    atMs: mark.atMs,
    uncertaintyMs: 0,
    declaredAtMs: mark.atMs,
    source: 'mark',
    evidence: ['marked by hand'],
  });
  const setPhase = (next: Phase, out: HoldEvent[]): void => {
    if (next !== phase) {
      phase = next;
      out.push({ type: 'phaseChanged', atMs: monotonicMs(nowMs), phase });
    }
  };
  const newWorking = (start: Boundary): Working => ({
    holdId: nextId(),
    start,
    end: undefined,
    contractions: [],
    startMarkId: undefined,
    endMarkId: undefined,
    estimatedStart: undefined,
    estimatedEnd: undefined,
  });
  const finish = (end: Boundary, out: HoldEvent[]): void => {
    const working = current!;
    working.end = end;
    endedCount += 1;
    previous = working;
    current = undefined;
    out.push({ type: 'holdEnded', hold: asHold(working) });
    setPhase('recovering', out);
  };

  const onMark = (mark: Mark, out: HoldEvent[]): void => {
    if (markKinds.size > 200) {
      markKinds.delete(markKinds.keys().next().value!);
    }
    markKinds.set(mark.markId, mark);
    if (mark.kind === 'holdStart') {
      const openEstimate =
        current !== undefined &&
        current.startMarkId === undefined &&
        Math.abs(current.start.atMs - mark.atMs) <= sameBoundaryMs;
      if (current !== undefined && openEstimate) {
        current.estimatedStart = current.start;
        current.start = markBoundary(mark);
        current.startMarkId = mark.markId;
        out.push({ type: 'holdRevised', hold: asHold(current) });
      } else {
        if (current !== undefined) {
          const atMs = monotonicMs(Math.max(current.start.atMs, mark.atMs));
          finish(
            {
              ...markBoundary(mark),
              atMs,
              uncertaintyMs: 10_000,
              source: 'detected',
              evidence: ['a new start was marked'],
            },
            out,
          );
        }
        current = newWorking(markBoundary(mark));
        current.startMarkId = mark.markId;
        out.push({ type: 'holdStarted', hold: asHold(current) });
        setPhase('holding', out);
      }
      seen = false;
    } else if (mark.kind === 'holdEnd') {
      if (current !== undefined && mark.atMs > current.start.atMs) {
        current.endMarkId = mark.markId;
        finish(markBoundary(mark), out);
      } else if (
        previous?.end !== undefined &&
        previous.endMarkId === undefined &&
        Math.abs(previous.end.atMs - mark.atMs) <= sameBoundaryMs &&
        mark.atMs > previous.start.atMs
      ) {
        previous.estimatedEnd = previous.end;
        previous.end = markBoundary(mark);
        previous.endMarkId = mark.markId;
        out.push({ type: 'holdRevised', hold: asHold(previous) });
      }
      breathedSince = false;
    } else if (mark.kind === 'breathing') {
      if (current !== undefined && mark.atMs > current.start.atMs) {
        finish(
          {
            ...markBoundary(mark),
            uncertaintyMs: 3_000,
            source: 'detected',
            evidence: ['breathing was marked'],
          },
          out,
        );
      }
      breathedSince = false;
    } else if (mark.kind === 'contraction' && current !== undefined && mark.atMs >= current.start.atMs) {
      current.contractions.push(mark.atMs);
      out.push({ type: 'holdRevised', hold: asHold(current) });
    }
  };

  const onMarkRemoved = (markId: string, out: HoldEvent[]): void => {
    const mark = markKinds.get(markId);
    markKinds.delete(markId);
    if (mark?.kind === 'contraction') {
      for (const working of [current, previous]) {
        const at = working?.contractions.indexOf(mark.atMs) ?? -1;
        if (working !== undefined && at >= 0) {
          working.contractions.splice(at, 1);
          out.push({ type: 'holdRevised', hold: asHold(working) });
        }
      }
    }
    if (current?.startMarkId === markId) {
      if (current.estimatedStart !== undefined) {
        current.start = current.estimatedStart;
        current.startMarkId = undefined;
        out.push({ type: 'holdRevised', hold: asHold(current) });
      } else {
        out.push({
          type: 'holdWithdrawn',
          holdId: current.holdId,
          atMs: monotonicMs(nowMs),
          reason: 'its mark was removed',
        });
        current = undefined;
        breathedSince = false;
        setPhase('resting', out);
      }
    } else if (previous !== undefined && (previous.endMarkId === markId || previous.startMarkId === markId)) {
      if (previous.endMarkId === markId && previous.estimatedEnd !== undefined) {
        previous.end = previous.estimatedEnd;
        previous.endMarkId = undefined;
        out.push({ type: 'holdRevised', hold: asHold(previous) });
      } else if (previous.startMarkId === markId && previous.estimatedStart !== undefined) {
        previous.start = previous.estimatedStart;
        previous.startMarkId = undefined;
        out.push({ type: 'holdRevised', hold: asHold(previous) });
      } else if (previous.startMarkId === markId) {
        out.push({
          type: 'holdWithdrawn',
          holdId: previous.holdId,
          atMs: monotonicMs(nowMs),
          reason: 'its mark was removed',
        });
        previous = undefined;
      }
    }
  };

  /** What is known of a hold in this row beside the signals: a planned start, or how rare holds have been. Log odds. */
  const expectation = (row: SecondRow): number => {
    if (
      planned !== undefined &&
      row.atMs >= planned.startAtMs - planned.toleranceMs &&
      row.atMs <= planned.startAtMs + plannedForMs
    ) {
      return plannedLogOdds;
    }
    if (current !== undefined) {
      return 0;
    }
    const expectedCount = practiceWeightHolds + rowsSeen / practiceRowsPerHold;
    return Math.max(-mostRarer, Math.min(0, Math.log((practiceWeightHolds + endedCount) / expectedCount)));
  };

  const probabilityOf = (row: SecondRow): number => {
    const fromSignals = belief.push(row);
    const odds = (fromSignals / Math.max(1e-9, 1 - fromSignals)) * Math.exp(expectation(row));
    return odds / (1 + odds);
  };

  /** The start of a hold under way as it looks now; undefined when the look back does not show one. */
  const startUnderWay = (): Boundary | undefined => {
    const { rows: all, holds } = belief.lookBack();
    const last = holds.at(-1);
    if (last === undefined || last.endSeen) {
      return undefined;
    }
    const atMs = last.startSeen ? boundaryMsBefore(all, last.startRow) : all[0]!.atMs;
    return {
      atMs: monotonicMs(Math.max(previous?.end?.atMs ?? 0, atMs, 0)),
      uncertaintyMs: last.startSeen ? Math.round(Math.hypot(500, 1_000 * last.startHalfWidth)) : 10_000,
      declaredAtMs: monotonicMs(nowMs),
      source: 'detected',
      evidence: startEvidence(all, last.startRow, all.length),
    };
  };

  const startAsNoticed = (row: SecondRow): Boundary => ({
    atMs: monotonicMs(Math.max(previous?.end?.atMs ?? 0, (likelySinceMs ?? row.atMs) - noticedAfterMs, 0)),
    uncertaintyMs: noticedAfterMs,
    declaredAtMs: monotonicMs(nowMs),
    source: 'detected',
    evidence: ['several weak signs together'],
  });

  /** Where the hold that began at `startMs` ended, as it looks now; `agreed` when the looking back sees an end too. */
  const endOf = (startMs: number, fallbackMs: number): { end: Boundary; agreed: boolean } => {
    const { rows: all, holds } = belief.lookBack();
    const same = holds.findLast(
      (hold) =>
        hold.endSeen &&
        boundaryMsBefore(all, hold.endRow) > startMs &&
        boundaryMsBefore(all, hold.endRow) > fallbackMs - 25_000,
    );
    const atMs = same === undefined ? fallbackMs : boundaryMsBefore(all, same.endRow);
    const end: Boundary = {
      atMs: monotonicMs(Math.max(startMs + 1, Math.min(atMs, nowMs))),
      uncertaintyMs: same === undefined ? 4_000 : Math.round(Math.hypot(500, 1_000 * same.endHalfWidth)),
      declaredAtMs: monotonicMs(nowMs),
      source: 'detected',
      evidence: endEvidence(all, (startMs - all[0]!.atMs) / 1_000 + 1, (atMs - all[0]!.atMs) / 1_000 + 1),
    };
    return { end, agreed: same !== undefined };
  };

  const onRow = (row: SecondRow, out: HoldEvent[]): void => {
    const p = probabilityOf(row);
    rowsSeen += 1;
    if (p >= 0.5) {
      likelySinceMs ??= row.atMs;
      unlikelySinceMs = undefined;
    } else {
      unlikelySinceMs ??= row.atMs;
      likelySinceMs = undefined;
      breathedSince = true;
    }
    if (current === undefined) {
      if (p >= startAt && breathedSince && rowsSeen >= askAt) {
        const start = startUnderWay() ?? (p >= sureAt ? startAsNoticed(row) : undefined);
        const believable =
          start !== undefined &&
          row.atMs - start.atMs >= shortestHoldMs &&
          (previous?.end === undefined || start.atMs > previous.end.atMs + 3_000);
        askAt = rowsSeen + (believable ? 0 : askAgainRows);
        if (believable) {
          current = newWorking(start);
          seen = true;
          declaredAtRow = rowsSeen;
          out.push({ type: 'holdStarted', hold: asHold(current) });
          setPhase('holding', out);
        }
      }
    } else {
      seen = seen || (p >= startAt && row.atMs > current.start.atMs);
      const marked = current.startMarkId !== undefined;
      const doubtedMs = unlikelySinceMs === undefined ? 0 : row.atMs - unlikelySinceMs;
      if (seen && p < endBelow && doubtedMs >= (marked ? markedDoubtMs : 0)) {
        const { end, agreed } = endOf(current.start.atMs, unlikelySinceMs ?? row.atMs);
        const enough = agreed || doubtedMs >= (marked ? 3 * markedDoubtMs : alonePastMs);
        if (enough && !marked && end.atMs - current.start.atMs < 0.7 * shortestHoldMs) {
          out.push({
            type: 'holdWithdrawn',
            holdId: current.holdId,
            atMs: monotonicMs(nowMs),
            reason: 'it was too short to be a hold',
          });
          current = undefined;
          setPhase('resting', out);
        } else if (enough) {
          finish(end, out);
        }
      } else if (!seen && row.atMs - current.start.atMs > unseenMs) {
        finish(
          {
            atMs: monotonicMs(Math.round((current.start.atMs + row.atMs) / 2)),
            uncertaintyMs: unseenMs / 2,
            declaredAtMs: monotonicMs(nowMs),
            source: 'detected',
            evidence: ['the signals show no hold for three minutes'],
          },
          out,
        );
      } else if (!marked && reviseAtRows.some((rows) => rowsSeen === declaredAtRow + rows)) {
        const start = startUnderWay();
        if (
          start !== undefined &&
          start.uncertaintyMs <= current.start.uncertaintyMs &&
          Math.abs(start.atMs - current.start.atMs) > 500
        ) {
          // When it was first said stays.
          current.start = { ...start, declaredAtMs: current.start.declaredAtMs };
          out.push({ type: 'holdRevised', hold: asHold(current) });
        }
      }
    }
    if (current === undefined) {
      const recovering = previous?.end !== undefined && nowMs - previous.end.atMs < recoveringMs;
      const readying =
        planned !== undefined && planned.startAtMs - nowMs < 120_000 && planned.startAtMs > nowMs;
      setPhase(
        recovering ? 'recovering' : rowsSeen < 10 ? 'unknown' : readying ? 'readying' : 'resting',
        out,
      );
    }
  };

  return {
    push(event: DetectorEvent): readonly HoldEvent[] {
      const out: HoldEvent[] = [];
      switch (event.type) {
        case 'sample':
          nowMs = Math.max(nowMs, Number.isFinite(event.sample.atMs) ? event.sample.atMs : nowMs);
          for (const row of rows.push(event.sample)) {
            onRow(row, out);
          }
          break;
        case 'advance':
          nowMs = Math.max(nowMs, Number.isFinite(event.atMs) ? event.atMs : nowMs);
          for (const row of rows.advance(event.atMs)) {
            onRow(row, out);
          }
          break;
        case 'mark':
          nowMs = Math.max(nowMs, event.mark.atMs);
          onMark(event.mark, out);
          break;
        case 'markRemoved':
          onMarkRemoved(event.markId, out);
          break;
        case 'schedule':
          planned = { startAtMs: event.startAtMs, toleranceMs: event.toleranceMs };
          break;
      }
      return out;
    },
    get phase() {
      return phase;
    },
    get current() {
      return current === undefined ? undefined : asHold(current);
    },
  };
}
