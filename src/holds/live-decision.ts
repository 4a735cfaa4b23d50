// When a hold is said to have begun or ended, row by row, from what is believed; and when nothing is said, because the
// signals cannot carry it.

import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import type { SecondRow } from '../signal/second-rows.ts';
import { endEvidence, startEvidence } from './boundary-evidence.ts';
import type { Boundary } from './hold.ts';
import type { HoldBelief } from './hold-belief.ts';
import { practiceRowsPerHold } from './hold-crf.ts';
import { carriesLiveDecision } from './hold-evidence.ts';
import type { HoldLedger } from './hold-ledger.ts';
import { boundaryMsBefore } from './smoothing-network.ts';

/** Shorter stillness than this is a pause or a swallow, not a hold. A choice. */
const shortestHoldMs = 8_000;
/** Say "start" at this probability, "end" below the other. Choices, checked by the accuracy bench. */
const startAt = 0.7;
const endBelow = 0.15;
/** The looking back must find the hold at these log odds too: one false start in 10 h of breathing is too many. A choice. */
const startLogOdds = 1;
/** A pleth moves with the hand too: it must be surer. A choice. */
const startLogOddsByPleth = 3;
/** From here on a start is said even when the looking back does not show it yet. A choice. */
const sureAt = 0.97;
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
 * A person who has long been without a hold is the less likely to begin one, as hold-crf.ts has it of a recording: the
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
/** Recovery as a phase lasts this long: finger saturation is still falling for up to 40 s (3.27). */
const recoveringMs = 60_000;
/** A plan's next start is near. A choice. */
const readyingMs = 120_000;

export interface LiveDecision {
  row(row: SecondRow, nowMs: number): void;
  planned(startAtMs: number, toleranceMs: number): void;
  /** A person marked a start: the signals have not shown that hold yet. */
  startMarked(): void;
  /** A hold was ended or taken back by hand: breathing must show before the next one. */
  endMarked(): void;
}

/** Decides for one athlete, and writes what it decides into the ledger. */
export function createLiveDecision(ledger: HoldLedger, belief: HoldBelief): LiveDecision {
  let rowsSeen = 0;
  let planned: { startAtMs: number; toleranceMs: number } | undefined;
  /** Since when a hold has been likelier than not, without a break; and since when it has not. */
  let likelySinceMs: number | undefined;
  let unlikelySinceMs: number | undefined = 0;
  /** The signals have shown the hold under way. */
  let seen = false;
  /** The signals have shown breathing since the last end. */
  let breathedSince = true;
  let askAt = 0;
  let declaredAtRow = 0;

  const isPlannedNow = (atMs: number): boolean =>
    planned !== undefined &&
    atMs >= planned.startAtMs - planned.toleranceMs &&
    atMs <= planned.startAtMs + plannedForMs;

  /** What is known of a hold in this row beside the signals: a planned start, or how rare holds have been. Log odds. */
  const expectation = (row: SecondRow): number => {
    if (isPlannedNow(row.atMs)) return plannedLogOdds;
    if (ledger.current !== undefined) return 0;
    const expectedCount = practiceWeightHolds + rowsSeen / practiceRowsPerHold;
    const rarer = Math.log((practiceWeightHolds + ledger.endedCount) / expectedCount);
    return Math.max(-mostRarer, Math.min(0, rarer));
  };

  const probabilityOf = (row: SecondRow): number => {
    const fromSignals = belief.push(row);
    const odds = (fromSignals / Math.max(1e-9, 1 - fromSignals)) * Math.exp(expectation(row));
    return odds / (1 + odds);
  };

  const notBefore = (atMs: number): MonotonicMs =>
    monotonicMs(Math.max(ledger.previous?.end?.atMs ?? 0, atMs, 0));

  /** The start of a hold under way as it looks now; undefined when the look back does not show one. */
  const startUnderWay = (nowMs: number, leastLogOdds: number): Boundary | undefined => {
    const { rows: all, holds } = belief.lookBack();
    const last = holds.at(-1);
    if (last === undefined || last.endSeen || last.logOdds < leastLogOdds) return undefined;
    return {
      atMs: notBefore(last.startSeen ? boundaryMsBefore(all, last.startRow) : all[0]!.atMs),
      uncertaintyMs: last.startSeen ? Math.round(Math.hypot(500, 1_000 * last.startHalfWidth)) : 10_000,
      declaredAtMs: monotonicMs(nowMs),
      source: 'detected',
      evidence: startEvidence(all, last.startRow, all.length),
    };
  };

  const startAsNoticed = (row: SecondRow, nowMs: number): Boundary => ({
    atMs: notBefore((likelySinceMs ?? row.atMs) - noticedAfterMs),
    uncertaintyMs: noticedAfterMs,
    declaredAtMs: monotonicMs(nowMs),
    source: 'detected',
    evidence: ['weakSigns'],
  });

  /** Where the hold that began at `startMs` ended, as it looks now; `agreed` when the looking back sees an end too. */
  const endOf = (startMs: number, fallbackMs: number, nowMs: number): { end: Boundary; agreed: boolean } => {
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

  const perhapsBegin = (row: SecondRow, p: number, nowMs: number): void => {
    if (p < startAt || !breathedSince || rowsSeen < askAt) return;
    const { previous } = ledger;
    const isPlanned = isPlannedNow(row.atMs);
    const byPleth = belief.kind === 'pleth';
    const start =
      startUnderWay(nowMs, isPlanned ? 0 : byPleth ? startLogOddsByPleth : startLogOdds) ??
      (p >= sureAt && !byPleth ? startAsNoticed(row, nowMs) : undefined);
    const believable =
      start !== undefined &&
      row.atMs - start.atMs >= shortestHoldMs &&
      (previous?.end === undefined || start.atMs > previous.end.atMs + 3_000);
    askAt = rowsSeen + (believable ? 0 : askAgainRows);
    if (believable) {
      ledger.begin(start);
      seen = true;
      declaredAtRow = rowsSeen;
    }
  };

  const perhapsEnd = (row: SecondRow, p: number, nowMs: number): void => {
    const current = ledger.current!;
    seen = seen || (p >= startAt && row.atMs > current.start.atMs);
    const marked = current.startMarkId !== undefined;
    const doubtedMs = unlikelySinceMs === undefined ? 0 : row.atMs - unlikelySinceMs;
    if (seen && p < endBelow && doubtedMs >= (marked ? markedDoubtMs : 0)) {
      const { end, agreed } = endOf(current.start.atMs, unlikelySinceMs ?? row.atMs, nowMs);
      const enough = agreed || doubtedMs >= (marked ? 3 * markedDoubtMs : alonePastMs);
      if (!enough) return;
      if (!marked && end.atMs - current.start.atMs < 0.7 * shortestHoldMs) ledger.withdraw(nowMs, 'tooShort');
      else ledger.finish(end);
    } else if (!seen && row.atMs - current.start.atMs > unseenMs) {
      ledger.finish({
        atMs: monotonicMs(Math.round((current.start.atMs + row.atMs) / 2)),
        uncertaintyMs: unseenMs / 2,
        declaredAtMs: monotonicMs(nowMs),
        source: 'detected',
        evidence: ['noHoldInSignals'],
      });
    } else if (!marked && reviseAtRows.some((rows) => rowsSeen === declaredAtRow + rows)) {
      const start = startUnderWay(nowMs, 0);
      if (
        start !== undefined &&
        start.uncertaintyMs <= current.start.uncertaintyMs &&
        Math.abs(start.atMs - current.start.atMs) > 500
      ) {
        // When it was first said stays.
        ledger.reviseStart({ ...start, declaredAtMs: current.start.declaredAtMs });
      }
    }
  };

  /** The phase while no hold is under way. Where the signals cannot carry a decision, it is not known. */
  const restingPhase = (canTell: boolean, nowMs: number) => {
    const endMs = ledger.previous?.end?.atMs;
    if (endMs !== undefined && nowMs - endMs < recoveringMs) return 'recovering';
    const isNear =
      planned !== undefined && planned.startAtMs > nowMs && planned.startAtMs - nowMs < readyingMs;
    if (isNear) return 'readying';
    return rowsSeen < 10 || !canTell ? 'unknown' : 'resting';
  };

  return {
    row(row, nowMs) {
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
      const canTell = carriesLiveDecision(belief.kind);
      // Without beats, a pleth or a breathing channel a plan's start is needed beside the signals.
      if (ledger.current !== undefined) perhapsEnd(row, p, nowMs);
      else if (canTell || isPlannedNow(row.atMs)) perhapsBegin(row, p, nowMs);
      if (ledger.current === undefined) ledger.setPhase(restingPhase(canTell, nowMs), nowMs);
    },
    planned(startAtMs, toleranceMs) {
      planned = { startAtMs, toleranceMs };
    },
    startMarked() {
      seen = false;
    },
    endMarked() {
      breathedSince = false;
    },
  };
}
