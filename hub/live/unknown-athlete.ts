// The refusals for an athlete whom the hub does not know, worded once.

import type { Refusal } from './live-session.ts';

export const unknownAthlete: Refusal = {
  code: 'unknownAthlete',
  message: 'This athlete is not known to this hub.',
};

export const unknownAmongAthletes: Refusal = {
  code: 'unknownAthlete',
  message: 'One of the athletes is not known to this hub.',
};

export const notInRecording: Refusal = {
  code: 'unknownAthlete',
  message: 'This athlete is not in the recording.',
};
