// Whether a found hold is only proposed for a person to accept, and how sure it says it is. Both are read if they are there.

import type { Hold } from '../../../src/holds/hold.ts';

/** A hold that is shown to be accepted or put aside, not declared. */
export function isProposal(hold: Hold): boolean {
  return (hold as { readonly proposed?: unknown }).proposed === true;
}

/** The stated probability that the hold is one, 0 to 1; undefined where none is stated. */
export function statedConfidence(hold: Hold): number | undefined {
  const { confidence } = hold as { readonly confidence?: unknown };
  return typeof confidence === 'number' ? confidence : undefined;
}
