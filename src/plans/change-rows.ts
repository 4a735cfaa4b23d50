// All rows of a table changed at once: longer, shorter, or all alike, each within its own limits.

import type { PlanRow } from '../../shared/plan.ts';

export type RowPart = 'ceilingSeconds' | 'recoverySeconds';

/** What the page lets a row have; the schema's own limits (shared/plan.ts) are no narrower. */
export const rowLimitsSeconds: Readonly<Record<RowPart, { readonly least: number; readonly most: number }>> =
  {
    ceilingSeconds: { least: 5, most: 900 },
    recoverySeconds: { least: 0, most: 1_800 },
  };

const within = (part: RowPart, seconds: number): number => {
  const { least, most } = rowLimitsSeconds[part];
  return Math.min(most, Math.max(least, Math.round(seconds)));
};

/** A row at its limit stays there. */
export const shiftRows = (rows: readonly PlanRow[], part: RowPart, bySeconds: number): PlanRow[] =>
  rows.map((row) => ({ ...row, [part]: within(part, row[part] + bySeconds) }));

export const setRows = (rows: readonly PlanRow[], part: RowPart, seconds: number): PlanRow[] =>
  rows.map((row) => ({ ...row, [part]: within(part, seconds) }));
