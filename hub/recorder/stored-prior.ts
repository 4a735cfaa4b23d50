// What earlier sessions taught of an athlete's saturation, as the store keeps it.

import { type AthletePrior, readAthletePrior } from '../../src/oxygen/athlete-prior.ts';
import type { Documents } from '../base/ports/documents.ts';

/** Undefined before the first hold; a stored prior that cannot be read is as none. */
export const storedPriorOf = (store: Documents, athleteId: string): AthletePrior | undefined =>
  readAthletePrior(store.readDocument('oxygenPrior', athleteId)?.body);
