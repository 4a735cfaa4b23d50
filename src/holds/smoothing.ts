// The pass over a whole recording: estimates every hold afresh from signals on both sides of each boundary, and lets
// marks win.

import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import type { Mark } from '../samples/mark.ts';
import type { Sample } from '../samples/sample.ts';
import type { PlethSecond } from '../signal/pleth-breathing.ts';
import { createSecondRows, type SecondRow, withPleth } from '../signal/second-rows.ts';
import { endEvidence, startEvidence } from './boundary-evidence.ts';
import type { Boundary, BoundaryEvidence, Hold } from './hold.ts';
import { confidenceOf } from './hold-confidence.ts';
import { type CrfHold, crfPosteriorByRate, holdsOfPosterior } from './hold-crf.ts';
import { carriesLiveDecision, type EvidenceKind, evidenceKindOf, neededLogOdds } from './hold-evidence.ts';
import type { HoldNetwork } from './hold-network.ts';
import { respirationLogOdds } from './respiration-pause.ts';
import { saturationFitsHold } from './saturation-course.ts';
import { boundaryMsBefore, committedNetworks, isPlethAlone, scoresOf } from './smoothing-network.ts';

/** A mark this near an estimate names the same boundary. */
const sameBoundaryMs = 45_000;
/**
 * Finds the holds of one athlete's recording, ordered and disjoint. `samples` and `marks` are in time order.
 * `liveHolds` lends its ids and `declaredAtMs` to the holds that match; marks are boundaries and win.
 * `plethSeconds` (by row time, see pleth-breathing.ts) stands in for pleth samples where those are left out.
 * A hold that the recording does not see the end of is returned only when its start was marked.
 */
export function reestimateHolds(
  samples: readonly Sample[],
  marks: readonly Mark[],
  liveHolds: readonly Hold[] = [],
  plethSeconds?: ReadonlyMap<number, PlethSecond>,
  unwatched: readonly UnwatchedStretch[] = [],
): Hold[] {
  const stream = createSecondRows();
  const rows: SecondRow[] = [];
  for (const sample of samples) {
    for (const row of stream.push(sample)) {
      rows.push(row);
    }
  }
  rows.push(...stream.flush());
  withPleth(rows, plethSeconds);
  const endMs = samples.at(-1)?.atMs ?? monotonicMs(0);
  const estimates = rows.length < 20 ? [] : estimateHolds(rows);
  return withMarks(bridged(estimates, unwatched, liveHolds), marks, liveHolds, endMs);
}

/** A stretch in which nobody watched, and nothing was recorded. */
export interface UnwatchedStretch {
  readonly fromMs: MonotonicMs;
  readonly toMs: MonotonicMs;
}

/** A boundary so near a stretch that nobody watched is one of the stretch, not of the hold. Our choice: as a mark's is found. */
const nearStretchMs = 20_000;
/** Of a hold that was broken off so soon, what lies before the stretch need not show it: too little of it is there. Our choice. */
const shortPieceMs = 30_000;

/**
 * A hold that went on over a stretch that nobody watched is one, where the live detector said so and both sides show it, or the
 * side after it and the one before is a short piece.
 */
function bridged(
  estimates: readonly HoldEstimate[],
  unwatched: readonly UnwatchedStretch[],
  liveHolds: readonly Hold[],
): readonly HoldEstimate[] {
  let whole = [...estimates];
  for (const { fromMs, toMs } of unwatched) {
    const wentOn = liveHolds.find(
      ({ start, end }) => start.atMs <= fromMs && (end?.atMs ?? Number.POSITIVE_INFINITY) >= toMs,
    );
    const isNear = (atMs: number): boolean => atMs >= fromMs - nearStretchMs && atMs <= toMs + nearStretchMs;
    const before = whole.find(({ start, end }) => start.atMs < fromMs && isNear(end.atMs));
    const after = whole.find(
      (one) => one !== before && one.start.atMs > fromMs && isNear(one.start.atMs) && one.end.atMs > toMs,
    );
    if (wentOn === undefined || after === undefined) continue;
    if (before === undefined && fromMs - wentOn.start.atMs > shortPieceMs) continue;
    const one: HoldEstimate = {
      start: before?.start ?? wentOn.start,
      end: after.end,
      confidence: Math.max(before?.confidence ?? 0, after.confidence),
      proposed: (before?.proposed ?? true) && after.proposed,
    };
    whole = whole.flatMap((each) => (each === after ? [one] : each === before ? [] : [each]));
  }
  return whole;
}

/** A hold found in the signals alone. */
export interface HoldEstimate {
  readonly start: Boundary;
  readonly end: Boundary;
  /** Probability, 0 to 1, that there is a hold at all; calibrated on real people and simulated holds. */
  readonly confidence: number;
  /** Too little to stand by itself: a person is asked. */
  readonly proposed: boolean;
}

/** The networks of the smoothing pass. Others than the committed ones are for cross-validation. */
export interface SmoothingNetworks {
  readonly smoothing: HoldNetwork;
  readonly pleth: HoldNetwork;
}

/** A hold of the smoothing pass before any threshold, with what it rests on. */
export interface FoundHold extends CrfHold {
  readonly kind: EvidenceKind;
  readonly startMs: number;
  readonly endMs: number;
}

/** Everything the smoothing pass sees as a hold, with both boundaries in the recording, however weakly. */
export function foundIn(
  rows: readonly SecondRow[],
  networks: SmoothingNetworks = committedNetworks,
): FoundHold[] {
  const posterior = crfPosteriorByRate(scoresOf(rows, networks), isPlethAlone(rows));
  const breathingTells = breathingTellsIn(rows);
  return holdsOfPosterior(posterior).flatMap((hold) => {
    if (!hold.startSeen || !hold.endSeen) return [];
    const kind = evidenceKindOf(
      rows,
      Math.max(0, Math.floor(hold.startRow) - aroundRows),
      Math.min(rows.length, Math.ceil(hold.endRow) + aroundRows),
      breathingTells(hold.startRow, hold.endRow),
    );
    const [startMs, endMs] = [boundaryMsBefore(rows, hold.startRow), boundaryMsBefore(rows, hold.endRow)];
    return [{ ...hold, kind, startMs, endMs }];
  });
}

/** Whether a breathing channel, where there is one, tells of most rows of a stretch. */
function breathingTellsIn(rows: readonly SecondRow[]): (from: number, to: number) => boolean {
  if (!rows.some(({ respiration }) => respiration !== undefined)) return () => true;
  const logOdds = respirationLogOdds(rows);
  return (from, to) => {
    const inside = logOdds.subarray(Math.floor(from), Math.ceil(to));
    return inside.filter((each) => !Number.isNaN(each)).length >= inside.length / 2;
  };
}

/** Holds of rows a second apart that have enough evidence to be proposed at least. */
export function estimateHolds(
  rows: readonly SecondRow[],
  networks: SmoothingNetworks = committedNetworks,
): HoldEstimate[] {
  const found = foundIn(rows, networks);
  const standing = new Set(found.filter((hold) => stands(rows, hold)));
  return found.flatMap((hold) => {
    const needed = neededLogOdds[hold.kind];
    if (hold.logOdds < needed.proposed) return [];
    const { startRow, endRow } = hold;
    return [
      {
        start: boundary(rows, startRow, hold.startHalfWidth, startEvidence(rows, startRow, endRow)),
        end: boundary(rows, endRow, hold.endHalfWidth, endEvidence(rows, startRow, endRow)),
        confidence: confidenceOf(hold.kind, hold.logOdds),
        proposed:
          mayBeBreathStopping(hold, standing) ||
          (!standing.has(hold) && !(standing.size > 0 && standsAmongHolds(rows, hold))),
      },
    ];
  });
}

/** Signals that show only what follows from a hold stand by much evidence, or by less and a fall that goes as in a hold. */
function stands(rows: readonly SecondRow[], { kind, logOdds, startRow, endRow }: FoundHold): boolean {
  const { stands: usual, standsByFall = usual } = neededLogOdds[kind];
  if (logOdds >= usual || logOdds < standsByFall) return logOdds >= usual;
  return saturationFitsHold(rows, Math.round(startRow), Math.round(endRow));
}

/**
 * Beside a hold that stands by itself, a weaker one stands too: who holds once holds again. By signals that show breathing itself it
 * must have lasted longer than breath stops unmeant; by the others the saturation must have gone as in a hold.
 */
function standsAmongHolds(rows: readonly SecondRow[], hold: FoundHold): boolean {
  const { standsAmongHolds: least } = neededLogOdds[hold.kind];
  if (least === undefined || hold.logOdds < least) return false;
  if (carriesLiveDecision(hold.kind)) return hold.endRow - hold.startRow >= breathStopping.mostRows;
  return saturationFitsHold(rows, Math.round(hold.startRow), Math.round(hold.endRow), 'amongHolds');
}

/**
 * Who has breathed hard after a hold breathes little afterwards, or stops for seconds without meaning to (Meah & Gardner 1994,
 * J Physiol 477:527; from memory): a stillness shorter than the first that begins within the second of the end of a longer
 * hold is not known to be one, and a person is asked. Our choice of seconds, made on the foreign generators (SIMULATED).
 */
const breathStopping = { mostRows: 30, withinRows: 60 } as const;

function mayBeBreathStopping(hold: FoundHold, standing: ReadonlySet<FoundHold>): boolean {
  const rows = hold.endRow - hold.startRow;
  if (hold.kind === 'breathing' || rows >= breathStopping.mostRows) return false;
  return [...standing].some(
    (other) =>
      other.endRow <= hold.startRow &&
      hold.startRow - other.endRow < breathStopping.withinRows &&
      other.endRow - other.startRow > rows,
  );
}

/** How far around a hold its kind of evidence is taken, rows. */
const aroundRows = 30;

/**
 * What the posterior leaves out: a boundary lies anywhere in its second, and the practice sessions that it is calibrated
 * on are not this person. Our choice.
 */
const beyondPosteriorMs = 900;

function boundary(
  rows: readonly SecondRow[],
  row: number,
  halfWidth: number,
  evidence: readonly BoundaryEvidence[],
): Boundary {
  return {
    atMs: monotonicMs(Math.max(0, boundaryMsBefore(rows, row))),
    uncertaintyMs: Math.round(Math.hypot(1_000 * halfWidth, beyondPosteriorMs)),
    declaredAtMs: rows.at(-1)!.atMs,
    source: 'detected',
    evidence,
  };
}

const markBoundary = (atMs: MonotonicMs): Boundary => ({
  atMs,
  uncertaintyMs: 0,
  declaredAtMs: atMs,
  source: 'mark',
  evidence: ['marked'],
});

interface Draft {
  start: Boundary;
  end: Boundary | undefined;
  marked: boolean;
  readonly confidence?: number;
  readonly proposed?: boolean;
}

/** Puts marks over estimates, ids of live holds on the holds that match, and sorts out overlaps. */
function withMarks(
  estimates: readonly HoldEstimate[],
  marks: readonly Mark[],
  liveHolds: readonly Hold[],
  endMs: MonotonicMs,
): Hold[] {
  const drafts: Draft[] = estimates.map((e) => ({ ...e, marked: false }));
  const ordered = [...marks].sort((a, b) => a.atMs - b.atMs);
  const starts = ordered.filter((mark) => mark.kind === 'holdStart');
  const ends = ordered.filter((mark) => mark.kind === 'holdEnd');
  const usedEnds = new Set<Mark>();
  starts.forEach((mark, i) => {
    const nextStartMs = starts[i + 1]?.atMs ?? Number.POSITIVE_INFINITY;
    const endMark = ends.find((end) => end.atMs > mark.atMs && end.atMs <= nextStartMs);
    if (endMark !== undefined) {
      usedEnds.add(endMark);
    }
    const untilMs = endMark?.atMs ?? nextStartMs;
    const same = drafts.filter(
      (draft) =>
        !draft.marked &&
        draft.start.atMs < untilMs &&
        (draft.end === undefined || draft.end.atMs > mark.atMs) &&
        (endMark !== undefined || Math.abs(draft.start.atMs - mark.atMs) <= sameBoundaryMs),
    );
    for (const draft of same) {
      drafts.splice(drafts.indexOf(draft), 1);
    }
    // No end lies before somebody said that the hold still went on.
    const heldMs =
      ordered.findLast(({ kind, atMs }) => kind === 'stillHolding' && atMs > mark.atMs && atMs < untilMs)
        ?.atMs ?? mark.atMs;
    const estimatedEnd = same.map((draft) => draft.end).find((end) => end !== undefined && end.atMs > heldMs);
    drafts.push({
      start: markBoundary(mark.atMs),
      end: endMark === undefined ? estimatedEnd : markBoundary(endMark.atMs),
      marked: true,
    });
  });
  for (const mark of ends) {
    if (!usedEnds.has(mark)) {
      const draft = drafts.find(
        (candidate) =>
          candidate.start.atMs < mark.atMs &&
          candidate.end?.source !== 'mark' &&
          (candidate.end === undefined || Math.abs(candidate.end.atMs - mark.atMs) <= sameBoundaryMs),
      );
      if (draft !== undefined) {
        draft.end = markBoundary(mark.atMs);
        draft.marked = true;
      }
    }
  }
  drafts.sort((a, b) => a.start.atMs - b.start.atMs || Number(b.marked) - Number(a.marked));
  // An estimate that runs into a marked hold gives way.
  const kept = drafts.filter((draft, i) => {
    const overlaps = (other: (typeof drafts)[number]): boolean =>
      other.start.atMs < (draft.end?.atMs ?? endMs) && (other.end?.atMs ?? endMs) > draft.start.atMs;
    return draft.marked || !drafts.some((other, j) => j !== i && other.marked && overlaps(other));
  });
  const usedIds = new Set<string>();
  let fresh = 0;
  return kept.map((draft) => {
    const live = liveHolds.find(
      (other) =>
        !usedIds.has(other.holdId) &&
        other.start.atMs < (draft.end?.atMs ?? endMs) &&
        (other.end?.atMs ?? endMs) > draft.start.atMs,
    );
    let holdId = live?.holdId;
    while (holdId === undefined || usedIds.has(holdId)) {
      fresh += 1;
      const candidate = `found-${fresh}`;
      holdId = liveHolds.some((other) => other.holdId === candidate) ? undefined : candidate;
    }
    usedIds.add(holdId);
    const declared = (estimated: Boundary, said: Boundary | undefined): Boundary =>
      estimated.source === 'mark' || said === undefined
        ? estimated
        : { ...estimated, declaredAtMs: said.declaredAtMs };
    const end = draft.end;
    const contractionsAtMs = ordered
      .filter(
        (mark) =>
          mark.kind === 'contraction' && mark.atMs >= draft.start.atMs && mark.atMs <= (end?.atMs ?? endMs),
      )
      .map((mark) => mark.atMs);
    return {
      holdId,
      start: declared(draft.start, live?.start),
      ...(end !== undefined && { end: declared(end, live?.end) }),
      contractionsAtMs,
      ...(draft.confidence !== undefined && !draft.marked && { confidence: draft.confidence }),
      ...(draft.proposed === true && !draft.marked && { proposed: true as const }),
    };
  });
}
