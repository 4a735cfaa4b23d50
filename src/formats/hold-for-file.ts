// One hold as files carry it: as corrected, with how each boundary came about, how it felt, and its measures.

interface MeasureForFile {
  readonly key: string;
  readonly unit: string;
  readonly label: string;
  /** Null where the signals do not tell. */
  readonly value: number | null;
}

export interface HoldForFile {
  readonly holdId: string;
  readonly startMs: number;
  readonly endMs: number | null;
  /** How each boundary came about: "estimated", "marked", "corrected". */
  readonly start: string;
  /** Null for a hold without an end. */
  readonly end: string | null;
  /** Found in signals that cannot carry a decision, and accepted by nobody. */
  readonly isProposed: boolean;
  readonly lowestSpo2: { readonly atMs: number; readonly value: number } | null;
  readonly comfort: number | null;
  readonly feeling: string | null;
  readonly measures: readonly MeasureForFile[];
}
