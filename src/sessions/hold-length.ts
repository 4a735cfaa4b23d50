// How long a hold was, and how sure that is: the one length of a hold, wherever it is shown.

interface BoundaryTime {
  readonly atMs: number;
  readonly uncertaintyMs: number;
}

export interface HoldLength {
  readonly durationMs: number;
  /** 68 % half-width; 0 where both ends were marked or corrected. */
  readonly uncertaintyMs: number;
}

/** Null for a hold without an end. Both ends' uncertainties count as independent. */
export function lengthOfHold(hold: {
  readonly start: BoundaryTime;
  readonly end?: BoundaryTime | null | undefined;
}): HoldLength | null {
  const { start, end } = hold;
  if (end === null || end === undefined) return null;
  return {
    durationMs: end.atMs - start.atMs,
    uncertaintyMs: Math.hypot(start.uncertaintyMs, end.uncertaintyMs),
  };
}
