// The live detector: rows from samples, the filter's belief, marks, and the decisions that a page shows.
// Marks win over the filter; a hold keeps its id through every revision.

import type { Phase } from '../../shared/schema-parts.ts';
import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import type { Mark } from '../samples/mark.ts';
import { createSecondRows, type SecondRow } from '../signal/second-rows.ts';
import { shortestHoldS } from './evidence.ts';
import { fitRecording } from './fit-recording.ts';
import type { Boundary, DetectorEvent, Hold, HoldDetector, HoldEvent } from './hold.ts';
import { createHoldFilter, type FilterBelief } from './hold-filter.ts';

export interface HoldDetectorOptions {
  /** Put before each hold's number, so that ids of several athletes differ. */
  readonly holdIdPrefix?: string;
}

/** The airway moves before the heart answers (see two-sided-pass.ts); the filter's end is later by about this. */
const answerMs = 1_000;
/** The detector learns its person from this much of the past, this often, from here on. Choices. */
const lookBackRows = 600;
const lookEveryRows = 300;
const firstLookRows = 240;
/** Say "start" at this probability, take it back below the other. Choices, checked by the accuracy bench. */
const startAt = 0.82;
const endBelow = 0.35;
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
  const filter = createHoldFilter();
  let nowMs = 0;
  let phase: Phase = 'unknown';
  let current: Working | undefined;
  let previous: Working | undefined;
  let holdCount = 0;
  let rowsSeen = 0;
  let planned: number | undefined;
  const markKinds = new Map<string, Mark>();
  let recent: SecondRow[] = [];

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
      filter.forceHold(mark.atMs);
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
      filter.forceBreathing(mark.atMs);
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
      filter.forceBreathing(mark.atMs);
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
        filter.forceBreathing(nowMs);
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

  /** Feeds a row; now and then looks back to learn the person, as the two-sided pass does. */
  const onRow = (row: SecondRow, out: HoldEvent[]): void => {
    recent.push(row);
    if (recent.length > lookBackRows + lookEveryRows) {
      recent = recent.slice(-lookBackRows);
    }
    onBelief(filter.push(row), out);
    if (rowsSeen >= firstLookRows && rowsSeen % lookEveryRows === 0) {
      filter.adopt(fitRecording(recent).person);
    }
  };

  const onBelief = (belief: FilterBelief, out: HoldEvent[]): void => {
    rowsSeen += 1;
    const p = belief.holdProbability;
    const startBoundary = (): Boundary => ({
      atMs: monotonicMs(Math.max(previous?.end?.atMs ?? 0, Math.round(belief.startMs))),
      uncertaintyMs: Math.round(Math.hypot(1_500, belief.startSpreadMs)),
      declaredAtMs: monotonicMs(nowMs),
      source: 'detected',
      evidence: startEvidence(belief),
    });
    if (current === undefined) {
      const longEnough = belief.atMs - belief.startMs >= shortestHoldS * 1_000;
      const afterPrevious = previous?.end === undefined || belief.startMs > previous.end.atMs + 3_000;
      if (p >= startAt && longEnough && afterPrevious) {
        current = newWorking(startBoundary());
        out.push({ type: 'holdStarted', hold: asHold(current) });
        setPhase('holding', out);
      }
    } else if (p < endBelow) {
      const endMs = belief.endMs - answerMs;
      if (current.startMarkId === undefined && endMs - current.start.atMs < 0.7 * shortestHoldS * 1_000) {
        out.push({
          type: 'holdWithdrawn',
          holdId: current.holdId,
          atMs: monotonicMs(nowMs),
          reason: 'it was too short to be a hold',
        });
        current = undefined;
        setPhase('resting', out);
      } else {
        finish(
          {
            atMs: monotonicMs(Math.max(current.start.atMs + 1, Math.round(endMs))),
            uncertaintyMs: Math.round(Math.hypot(1_500, belief.endSpreadMs)),
            declaredAtMs: monotonicMs(nowMs),
            source: 'detected',
            evidence: endEvidence(belief),
          },
          out,
        );
      }
      filter.forceBreathing(endMs);
    } else if (
      current.startMarkId === undefined &&
      Math.abs(belief.startMs - current.start.atMs) > 2_500 &&
      belief.startSpreadMs < current.start.uncertaintyMs
    ) {
      // Later seconds tell more of the start; when it was first said stays.
      current.start = { ...startBoundary(), declaredAtMs: current.start.declaredAtMs };
      out.push({ type: 'holdRevised', hold: asHold(current) });
    }
    if (current === undefined) {
      const recovering = previous?.end !== undefined && nowMs - previous.end.atMs < recoveringMs;
      const readying = planned !== undefined && planned - nowMs < 120_000 && planned > nowMs;
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
          planned = event.startAtMs;
          filter.expectStart(event.startAtMs, event.toleranceMs);
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

function startEvidence(belief: FilterBelief): string[] {
  const evidence = [`breathing rhythm (${belief.modulationBpm.toFixed(1)} /min) left the heart rate`];
  if (belief.heartRateFallPercent > 5) {
    evidence.push(`heart rate ${belief.heartRateFallPercent.toFixed(0)} % below rest`);
  }
  return evidence;
}

function endEvidence(belief: FilterBelief): string[] {
  return belief.riseBpm > 4
    ? [`heart rate rose ${belief.riseBpm.toFixed(0)} /min in some seconds`]
    : ['breathing rhythm in heart rate returned'];
}
