// When a hold that a person marked as begun ends without another mark, and one that a breathing sensor showed which has fallen
// silent. A person's word wins: lack of evidence never ends it.
// A clear and lasting sign of breathing makes it "probably over"; only when that has stood long enough does it end.

import { monotonicMs } from '../../shared/units.ts';
import type { Mark } from '../samples/mark.ts';
import type { SecondRow } from '../signal/second-rows.ts';
import { endNow } from './boundary-now.ts';
import { createBreathingSigns } from './breathing-sign.ts';
import { armedAfterProbableEndMs, type Boundary } from './hold.ts';
import type { HoldBelief } from './hold-belief.ts';
import { carriesLiveDecision } from './hold-evidence.ts';
import type { HoldLedger, WorkingHold } from './hold-ledger.ts';

/**
 * A hold that nothing has ended goes on for this long. Our choice: well beyond the longest static holds on air, nearly
 * 12 min (from memory), and short enough that a forgotten mark does not outlast a session's alarms.
 */
export const longestMarkedHoldMs = 20 * 60_000;
/** A finger's lowest reading comes so long after the end, and may as much sooner or later (reference 3.27: 15-35 s). */
const lowestAfterEndMs = 25_000;
const lowestSpreadMs = 10_000;
/** Taken for an end that the looking back does not place. A choice. */
const breathingUncertaintyMs = 4_000;
/** When the looking back does not agree, it is asked again after this long: it costs some milliseconds. */
const askAgainMs = 3_000;

/** Whoever said that they hold still is not asked for this long, and by signs since then only. Our choice. */
const quietAfterStillHoldingMs = 60_000;

/** What the decision knows in a row. */
export interface RowKnown {
  readonly row: SecondRow;
  /** Probability that the airway is closed. */
  readonly closed: number;
  /** Since when a hold has been unlikely without a break. */
  readonly unlikelySinceMs: number | undefined;
  /** The signals have shown this hold. */
  readonly seen: boolean;
  readonly nowMs: number;
}

export interface MarkedHoldWatch {
  /** Takes a row of `hold`, whose start is beyond doubt; calls it probably over, takes that back, or ends it. */
  row(hold: WorkingHold, known: RowKnown): void;
}

export function createMarkedHoldWatch(ledger: HoldLedger, belief: HoldBelief): MarkedHoldWatch {
  let followed: WorkingHold | undefined;
  let heeded: WorkingHold['stillHolding'];
  let signs = createBreathingSigns();
  let askAtMs = 0;
  /** Time of the row in which it was called probably over. */
  let probablySinceMs = 0;

  /** Where the hold ended by the sign that stands; undefined where the looking back does not bear it out. */
  const probableEnd = (hold: WorkingHold, sign: string, known: RowKnown) => {
    const { row, unlikelySinceMs, nowMs } = known;
    if (sign === 'breathing') {
      const since = { atMs: unlikelySinceMs ?? row.atMs, uncertaintyMs: breathingUncertaintyMs };
      const { end, agreed } = endNow(belief, hold.start.atMs, since, nowMs);
      return agreed ? end : undefined;
    }
    const atMs = (signs.lowestAtMs ?? row.atMs) - lowestAfterEndMs;
    return endNow(belief, hold.start.atMs, { atMs, uncertaintyMs: lowestSpreadMs }, nowMs).end;
  };

  return {
    row(hold, known) {
      if (followed !== hold) {
        followed = hold;
        heeded = undefined;
        signs = createBreathingSigns();
        askAtMs = 0;
      }
      const { row, closed, seen, nowMs } = known;
      if (heeded !== hold.stillHolding) {
        heeded = hold.stillHolding;
        if (heeded !== undefined) signs = createBreathingSigns();
        // A word that is taken back holds nothing off.
        askAtMs = heeded === undefined ? 0 : row.atMs + quietAfterStillHoldingMs;
      }
      const sign = signs.push(row, closed, seen && carriesLiveDecision(belief.kind));
      if (hold.probableEnd !== undefined && sign === undefined) ledger.setProbableEnd(undefined);
      else if (hold.probableEnd === undefined && sign !== undefined && row.atMs >= askAtMs) {
        const end = probableEnd(hold, sign, known);
        askAtMs = row.atMs + askAgainMs;
        probablySinceMs = row.atMs;
        if (end !== undefined) ledger.setProbableEnd(notBefore(hold.stillHolding, end));
      }
      const { probableEnd: end } = hold;
      if (end !== undefined && row.atMs - probablySinceMs >= armedAfterProbableEndMs)
        ledger.finish({ ...end, declaredAtMs: monotonicMs(nowMs) });
      else if (row.atMs - (hold.startSaidAtMs ?? row.atMs) >= longestMarkedHoldMs)
        ledger.finish(endAtLimit(hold, nowMs));
    },
  };
}

/** Nobody and nothing said when: somewhere between start and now. */
export function endAtLimit({ start, stillHolding, probableEnd }: WorkingHold, nowMs: number) {
  const heldMs = Math.max(start.atMs, stillHolding?.atMs ?? start.atMs);
  const middle = {
    atMs: monotonicMs(Math.round((heldMs + nowMs) / 2)),
    uncertaintyMs: Math.round((nowMs - heldMs) / 2),
    source: 'detected' as const,
    evidence: ['noEndFound'],
  };
  return { ...(probableEnd ?? middle), declaredAtMs: monotonicMs(nowMs) };
}

/** A person's word wins: no end lies before it. */
function notBefore(stillHolding: Mark | undefined, end: Boundary): Boundary {
  return stillHolding === undefined || end.atMs >= stillHolding.atMs
    ? end
    : { ...end, atMs: stillHolding.atMs, uncertaintyMs: Math.max(end.uncertaintyMs, breathingUncertaintyMs) };
}
