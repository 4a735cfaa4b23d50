// Why a hold of a plan was called off, as a clause of a sentence.

import { type Said, said } from '../../shared/said.ts';
import type { AlarmKind } from '../../shared/schema-parts.ts';

/** `endedEarly`: no hold was called off, a person ended the plan with holds left. */
export type WhyCalledOff = 'person' | 'endedEarly';

export function calledOffWhy(why: WhyCalledOff | AlarmKind): Said {
  switch (why) {
    case 'floorBreached':
    case 'heartRateSuddenFall':
    case 'heartRateLow':
    case 'noBreathingSign':
    case 'saturationNotRecovering':
      return said(`advice.why.${why}`);
    case 'person':
      return said('advice.why.person');
    default:
      return said('advice.why.other');
  }
}
