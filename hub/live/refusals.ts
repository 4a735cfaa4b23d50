// Every refusal of the hub's middle, worded once.

import type { Refusal } from '../base/refusal.ts';

export const refusals = {
  sessionRunning: {
    code: 'sessionRunning',
    message: 'A session is already being recorded. End it first.',
  },
  noSession: { code: 'noSession', message: 'No session is being recorded.' },
  noAthletes: { code: 'noAthletes', message: 'Choose at least one athlete.' },
  unknownAthlete: { code: 'unknownAthlete', message: 'This athlete is not known to this hub.' },
  unknownAmongAthletes: {
    code: 'unknownAthlete',
    message: 'One of these athletes is not known to this hub.',
  },
  notInSession: { code: 'unknownAthlete', message: 'This athlete is not in the session.' },
  notInRecording: { code: 'unknownAthlete', message: 'This athlete is not in the recording.' },
  athleteInSession: {
    code: 'sessionRunning',
    message: 'This athlete is in the running session. End it first.',
  },
  eraseBetweenSessions: {
    code: 'sessionRunning',
    message: 'Recordings can be erased between sessions. End this one first.',
  },
  assignBetweenSessions: {
    code: 'sessionRunning',
    message: 'Sensors change hands between sessions. End this one first.',
  },
  ownAthleteOnly: { code: 'notAllowed', message: 'This page may act only for its own athlete.' },
  unknownMark: { code: 'unknownMark', message: 'There is no such mark to take back.' },
  unknownHold: { code: 'unknownHold', message: 'There is no such hold any more.' },
  holdGoesOn: { code: 'unknownHold', message: 'This hold is still going on.' },
  changeNotSaved: {
    code: 'recorderFailed',
    message: 'The change could not be saved. Free some disk space and try again.',
  },
  floorLoweredDuringHold: {
    code: 'floorLoweredDuringHold',
    message:
      'The floor can be raised at any time, but not lowered during a hold, in the minute after it, or while the floor alarm stands.',
  },
} as const satisfies Record<string, Refusal>;

/** `reason` is the recorder's own sentence. */
export const recordingNotStarted = (reason: string): Refusal => ({
  code: 'recorderFailed',
  message: `The recording can't be started: ${reason}`,
});
