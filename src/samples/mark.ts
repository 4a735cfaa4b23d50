// A mark: what a person said happened, and when. Marks win over every estimate.

import type { HoldLungs, MarkKind } from '../../shared/schema-parts.ts';
import type { MonotonicMs } from '../../shared/units.ts';

export interface Mark {
  readonly markId: string;
  readonly kind: MarkKind;
  readonly atMs: MonotonicMs;
  readonly text?: string;
}

/** The marks that say how full the lungs are. */
export const lungsOfMark: Readonly<Partial<Record<MarkKind, HoldLungs>>> = {
  lungsFull: 'full',
  lungsHalf: 'half',
  lungsEmptied: 'emptied',
};
export const markOfLungs = {
  full: 'lungsFull',
  half: 'lungsHalf',
  emptied: 'lungsEmptied',
} as const satisfies Readonly<Record<HoldLungs, MarkKind>>;
