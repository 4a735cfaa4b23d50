// A mark: what a person said happened, and when. Marks win over every estimate.

import type { MarkKind } from '../../shared/schema-parts.ts';
import type { MonotonicMs } from '../../shared/units.ts';

export interface Mark {
  readonly markId: string;
  readonly kind: MarkKind;
  readonly atMs: MonotonicMs;
  readonly text?: string;
}
