// When a hold is said to have begun or ended, row by row, from what is believed; and when nothing is said, because the
// signals cannot carry it. A hold whose start a person marked ends by other rules: marked-hold-watch.ts.

import type { Phase } from '../../shared/schema-parts.ts';
import { monotonicMs } from '../../shared/units.ts';
import type { SecondRow } from '../signal/second-rows.ts';
import { endNow, startAsNoticed, startUnderWay } from './boundary-now.ts';
import type { HoldBelief } from './hold-belief.ts';
import { carriesLiveDecision } from './hold-evidence.ts';
import { expectedLogOdds, isPlannedAt, isPlannedSoon, type PlannedStart } from './hold-expectation.ts';
import type { HoldLedger, WorkingHold } from './hold-ledger.ts';
import {
  createMarkedHoldWatch,
  endAtLimit,
  longestMarkedHoldMs,
  type MarkedHoldWatch,
} from './marked-hold-watch.ts';

/** Shorter stillness than this is a pause or a swallow, not a hold. A choice. */
const shortestHoldMs = 8_000;
/** Say "start" at this probability, "end" below the other. Choices, checked by the accuracy bench. */
const startAt = 0.7;
const endBelow = 0.15;
/**
 * The looking back must find the hold at these log odds too: one false start in 10 h of breathing is too many. Our choice: at 1
 * two nights of sleep had 3 false starts in 15.5 h, at 2 one, and simulated holds lost 2 in 100.
 */
const startLogOdds = 2;
/** A pleth moves with the hand too: it must be surer. A choice. */
const startLogOddsByPleth = 3;
/**
 * Until so much of a person has been seen, heart and pleth have nothing usual to be set against, and sensors that are being put on
 * give a half-minute of nonsense: no start is said by them alone. A breathing sensor, a plan or a mark need not wait. Our choice.
 */
const leastRowsKnown = 30;
/** From here on a start is said even when the looking back does not show it yet. A choice. */
const sureAt = 0.97;
/** Without the looking back's consent an end is said when holding has been unlikely for this long. A choice. */
const alonePastMs = 6_000;
/** An end without the looking back lies about so far off. */
const endUncertaintyMs = 4_000;
/** A start is looked at again when it is this old, rows: later seconds tell more of it. Choices. */
const reviseAtRows = [20, 40] as const;
/** When the looking back does not agree with a start, ask again after this many rows. A choice. */
const askAgainRows = 3;
/** A hold whose mark was taken back, and which the signals never show, is left open this long. A choice. */
const unseenMs = 180_000;
/** Recovery as a phase lasts this long: finger saturation is still falling for up to 40 s (3.27). */
const recoveringMs = 60_000;
/**
 * After a stretch in which nobody watched, a hold under way is not ended by signals for so long: what is believed has to
 * find its way again, and who is held to be holding is watched at its strictest. Our choice.
 */
const settlesAfterMs = 20_000;

export interface LiveDecision {
  row(row: SecondRow, nowMs: number): void;
  /** A row of which nothing could be seen because nobody watched: nothing is decided by it. */
  unwatched(row: SecondRow): void;
  /** Watching goes on; the ledger may know of a hold that this decision did not find. */
  watchedAgain(nowMs: number): void;
  planned(startAtMs: number, toleranceMs: number): void;
  /** A person marked a start: the signals have not shown that hold yet. */
  startMarked(): void;
  /** A hold was ended or taken back by hand: breathing must show before the next one. */
  endMarked(): void;
}

/** Decides for one athlete, and writes what it decides into the ledger. */
export function createLiveDecision(ledger: HoldLedger, belief: HoldBelief): LiveDecision {
  return new Decision(ledger, belief);
}

class Decision implements LiveDecision {
  readonly #ledger: HoldLedger;
  readonly #belief: HoldBelief;
  readonly #marked: MarkedHoldWatch;
  #rowsSeen = 0;
  #planned: PlannedStart | undefined;
  /** Since when a hold has been likelier than not, without a break; and since when it has not. */
  #likelySinceMs: number | undefined;
  #unlikelySinceMs: number | undefined = 0;
  /** The signals have shown the hold under way. */
  #seen = false;
  /** The signals have shown breathing since the last end. */
  #breathedSince = true;
  #askAt = 0;
  #declaredAtRow = 0;
  #settledAtMs = 0;

  constructor(ledger: HoldLedger, belief: HoldBelief) {
    this.#ledger = ledger;
    this.#belief = belief;
    this.#marked = createMarkedHoldWatch(ledger, belief);
  }

  row(row: SecondRow, nowMs: number): void {
    const p = this.#probabilityOf(row);
    this.#rowsSeen += 1;
    this.#noteLikelihood(row, p);
    const canTell = carriesLiveDecision(this.#belief.kind);
    const { current } = this.#ledger;
    // Without beats, a pleth or a breathing channel a plan's start is needed beside the signals.
    if (current !== undefined) this.#followHold(current, row, p, nowMs);
    else if (canTell || isPlannedAt(this.#planned, row.atMs)) this.#perhapsBegin(row, p, nowMs);
    if (this.#ledger.current === undefined) this.#ledger.setPhase(this.#restingPhase(canTell, nowMs), nowMs);
  }

  unwatched(row: SecondRow): void {
    this.#belief.push(row, this.#ledger.current !== undefined);
    this.#rowsSeen += 1;
  }

  watchedAgain(nowMs: number): void {
    this.#settledAtMs = nowMs + settlesAfterMs;
    const { current } = this.#ledger;
    if (current === undefined) return;
    // Found before by signals, or marked: either way it has been said.
    this.#seen = this.#seen || current.startMarkId === undefined;
    // Its start stays where it was told: looking back over what nobody saw would move it without cause.
    this.#declaredAtRow = Number.NEGATIVE_INFINITY;
    if (this.#unlikelySinceMs !== undefined) this.#unlikelySinceMs = nowMs;
  }

  planned(startAtMs: number, toleranceMs: number): void {
    this.#planned = { startAtMs, toleranceMs };
  }

  startMarked(): void {
    this.#seen = false;
  }

  endMarked(): void {
    this.#breathedSince = false;
  }

  #probabilityOf(row: SecondRow): number {
    const fromSignals = this.#belief.push(row, this.#ledger.current !== undefined);
    const expectation = expectedLogOdds({
      isPlanned: isPlannedAt(this.#planned, row.atMs),
      isHolding: this.#ledger.current !== undefined,
      rowsSeen: this.#rowsSeen,
      endedCount: this.#ledger.endedCount,
    });
    const odds = (fromSignals / Math.max(1e-9, 1 - fromSignals)) * Math.exp(expectation);
    return odds / (1 + odds);
  }

  #noteLikelihood(row: SecondRow, p: number): void {
    if (p >= 0.5) {
      this.#likelySinceMs ??= row.atMs;
      this.#unlikelySinceMs = undefined;
    } else {
      this.#unlikelySinceMs ??= row.atMs;
      this.#likelySinceMs = undefined;
      this.#breathedSince = true;
    }
  }

  #perhapsBegin(row: SecondRow, p: number, nowMs: number): void {
    if (p < startAt || !this.#breathedSince || this.#rowsSeen < this.#askAt) return;
    const isPlanned = isPlannedAt(this.#planned, row.atMs);
    if (this.#rowsSeen < leastRowsKnown && this.#belief.kind !== 'breathing' && !isPlanned) return;
    const { previous } = this.#ledger;
    const notBeforeMs = previous?.end?.atMs ?? 0;
    const byPleth = this.#belief.kind === 'pleth';
    const usualLogOdds = byPleth ? startLogOddsByPleth : startLogOdds;
    const leastLogOdds = isPlanned ? 0 : usualLogOdds;
    const start =
      startUnderWay(this.#belief, nowMs, leastLogOdds, notBeforeMs) ??
      (p >= sureAt && !byPleth
        ? startAsNoticed(this.#likelySinceMs ?? row.atMs, nowMs, notBeforeMs)
        : undefined);
    const believable =
      start !== undefined &&
      row.atMs - start.atMs >= shortestHoldMs &&
      (previous?.end === undefined || start.atMs > previous.end.atMs + 3_000);
    this.#askAt = this.#rowsSeen + (believable ? 0 : askAgainRows);
    if (!believable) return;
    this.#ledger.begin(start);
    this.#seen = true;
    this.#declaredAtRow = this.#rowsSeen;
  }

  #followHold(current: WorkingHold, row: SecondRow, p: number, nowMs: number): void {
    this.#seen = this.#seen || (p >= startAt && row.atMs > current.start.atMs);
    const isByWord = current.startMarkId !== undefined || this.#belief.hasLostBreathing;
    if (!isByWord && current.probableEnd !== undefined) this.#ledger.setProbableEnd(undefined);
    const unlikelySinceMs = this.#unlikelySinceMs;
    if (current.startMarkId !== undefined)
      this.#marked.row(current, { row, closed: p, unlikelySinceMs, seen: this.#seen, nowMs });
    else if (this.#belief.hasLostBreathing) this.#followWithoutBreathing(current, row, p, nowMs);
    else if (row.atMs < this.#settledAtMs) return;
    else if (this.#seen && p < endBelow) this.#perhapsEnd(current, row, nowMs);
    else if (!this.#seen && row.atMs - current.start.atMs > unseenMs) this.#endUnseen(current, row, nowMs);
    // What it was found by has gone silent, or nothing has shown its end: it is not held for ever.
    else if (row.atMs - current.start.atMs >= longestMarkedHoldMs)
      this.#ledger.finish(endAtLimit(current, nowMs));
    else if (reviseAtRows.some((rows) => this.#rowsSeen === this.#declaredAtRow + rows))
      this.#perhapsRevise(current, nowMs);
  }

  /**
   * What showed this hold has fallen silent. As with one that a person marked: what is left ends it by a clear and lasting sign
   * of breathing alone, never for want of evidence.
   */
  #followWithoutBreathing(current: WorkingHold, row: SecondRow, p: number, nowMs: number): void {
    const seen = this.#belief.isShownByOthers;
    const unlikelySinceMs = this.#unlikelySinceMs;
    this.#marked.row(current, { row, closed: p, unlikelySinceMs, seen, nowMs });
    if (this.#ledger.current !== undefined && row.atMs - current.start.atMs >= longestMarkedHoldMs)
      this.#ledger.finish(endAtLimit(current, nowMs));
  }

  #perhapsEnd(current: WorkingHold, row: SecondRow, nowMs: number): void {
    const sinceMs = this.#unlikelySinceMs ?? row.atMs;
    const fallback = { atMs: sinceMs, uncertaintyMs: endUncertaintyMs };
    const { end, agreed } = endNow(this.#belief, current.start.atMs, fallback, nowMs);
    if (!agreed && row.atMs - sinceMs < alonePastMs) return;
    if (end.atMs - current.start.atMs < 0.7 * shortestHoldMs) this.#ledger.withdraw(nowMs, 'tooShort');
    else this.#ledger.finish(end);
  }

  #endUnseen(current: WorkingHold, row: SecondRow, nowMs: number): void {
    this.#ledger.finish({
      atMs: monotonicMs(Math.round((current.start.atMs + row.atMs) / 2)),
      uncertaintyMs: unseenMs / 2,
      declaredAtMs: monotonicMs(nowMs),
      source: 'detected',
      evidence: ['noHoldInSignals'],
    });
  }

  #perhapsRevise(current: WorkingHold, nowMs: number): void {
    const start = startUnderWay(this.#belief, nowMs, 0, this.#ledger.previous?.end?.atMs ?? 0);
    if (
      start !== undefined &&
      start.uncertaintyMs <= current.start.uncertaintyMs &&
      Math.abs(start.atMs - current.start.atMs) > 500
    ) {
      // When it was first said stays.
      this.#ledger.reviseStart({ ...start, declaredAtMs: current.start.declaredAtMs });
    }
  }

  /** The phase while no hold is under way. Where the signals cannot carry a decision, it is not known. */
  #restingPhase(canTell: boolean, nowMs: number): Phase {
    const endMs = this.#ledger.previous?.end?.atMs;
    if (endMs !== undefined && nowMs - endMs < recoveringMs) return 'recovering';
    if (isPlannedSoon(this.#planned, nowMs)) return 'readying';
    return this.#rowsSeen < 10 || !canTell ? 'unknown' : 'resting';
  }
}
