// Where the hold under way began and the one that seems over ended, as the looking back shows it now.

import { monotonicMs } from '../../shared/units.ts';
import { endEvidence, startEvidence } from './boundary-evidence.ts';
import type { Boundary } from './hold.ts';
import type { HoldBelief } from './hold-belief.ts';
import { boundaryMsBefore } from './smoothing-network.ts';

/** How long before it is likelier than not a hold has begun, when nothing better is known; about as uncertain. */
const noticedAfterMs = 7_000;

/**
 * The start of a hold under way; undefined when the look back does not show one.
 * @param notBeforeMs the end of the hold before.
 */
export function startUnderWay(
  belief: HoldBelief,
  nowMs: number,
  leastLogOdds: number,
  notBeforeMs: number,
): Boundary | undefined {
  const { rows: all, holds } = belief.lookBack(nowMs);
  const last = holds.at(-1);
  if (last === undefined || last.endSeen || last.logOdds < leastLogOdds) return undefined;
  const atMs = last.startSeen ? boundaryMsBefore(all, last.startRow) : all[0]!.atMs;
  return {
    atMs: monotonicMs(Math.max(notBeforeMs, atMs, 0)),
    uncertaintyMs: last.startSeen ? Math.round(Math.hypot(500, 1_000 * last.startHalfWidth)) : 10_000,
    declaredAtMs: monotonicMs(nowMs),
    source: 'detected',
    evidence: startEvidence(all, last.startRow, all.length),
  };
}

/** A start taken from when a hold became likely alone. */
export const startAsNoticed = (likelySinceMs: number, nowMs: number, notBeforeMs: number): Boundary => ({
  atMs: monotonicMs(Math.max(notBeforeMs, likelySinceMs - noticedAfterMs, 0)),
  uncertaintyMs: noticedAfterMs,
  declaredAtMs: monotonicMs(nowMs),
  source: 'detected',
  evidence: ['weakSigns'],
});

/** Where the hold that began at `startMs` ended; `agreed` when the looking back sees an end too. */
export function endNow(
  belief: HoldBelief,
  startMs: number,
  fallback: { readonly atMs: number; readonly uncertaintyMs: number },
  nowMs: number,
): { readonly end: Boundary; readonly agreed: boolean } {
  const { rows: all, holds } = belief.lookBack(startMs);
  const same = holds.findLast(
    (hold) =>
      hold.endSeen &&
      boundaryMsBefore(all, hold.endRow) > startMs &&
      boundaryMsBefore(all, hold.endRow) > fallback.atMs - 25_000,
  );
  const atMs = same === undefined ? fallback.atMs : boundaryMsBefore(all, same.endRow);
  const end: Boundary = {
    atMs: monotonicMs(Math.max(startMs + 1, Math.min(atMs, nowMs))),
    uncertaintyMs:
      same === undefined ? fallback.uncertaintyMs : Math.round(Math.hypot(500, 1_000 * same.endHalfWidth)),
    declaredAtMs: monotonicMs(nowMs),
    source: 'detected',
    evidence: endEvidence(all, (startMs - all[0]!.atMs) / 1_000 + 1, (atMs - all[0]!.atMs) / 1_000 + 1),
  };
  return { end, agreed: same !== undefined };
}
