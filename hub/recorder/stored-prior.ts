// What earlier sessions taught of an athlete's saturation, as the store keeps it.

import { type AthletePrior, readAthletePrior } from '../../src/oxygen/athlete-prior.ts';
import type { Store } from '../base/ports/store.ts';

/** Undefined before the first hold; a stored prior that cannot be read is as none. */
export const storedPriorOf = (store: Store, athleteId: string): AthletePrior | undefined =>
  readAthletePrior(store.readDocument('oxygenPrior', athleteId)?.body);
