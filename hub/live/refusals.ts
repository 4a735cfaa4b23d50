// Every refusal of the hub's middle, said once.

import { notSavedYetCode, type Said, said } from '../../shared/said.ts';
import type { Refusal } from '../base/refusal.ts';

export const refusals = {
  sessionRunning: {
    code: 'sessionRunning',
    said: said('refusal.sessionRunning'),
  },
  noSession: { code: 'noSession', said: said('refusal.noSession') },
  noAthletes: { code: 'noAthletes', said: said('refusal.noAthletes') },
  unknownAthlete: { code: 'unknownAthlete', said: said('refusal.unknownAthlete') },
  unknownAmongAthletes: {
    code: 'unknownAthlete',
    said: said('refusal.unknownAmongAthletes'),
  },
  notTheSame: { code: 'badRequest', said: said('refusal.notTheSame') },
  notInSession: { code: 'unknownAthlete', said: said('refusal.notInSession') },
  notInRecording: { code: 'unknownAthlete', said: said('refusal.notInRecording') },
  athleteInSession: {
    code: 'sessionRunning',
    said: said('refusal.athleteInSession'),
  },
  eraseBetweenSessions: {
    code: 'sessionRunning',
    said: said('refusal.eraseBetweenSessions'),
  },
  alreadyInSession: { code: 'badRequest', said: said('refusal.alreadyInSession') },
  lastInSession: { code: 'badRequest', said: said('refusal.lastInSession') },
  drillGoesOn: { code: 'badRequest', said: said('refusal.drillGoesOn') },
  drillInAlarm: { code: 'badRequest', said: said('refusal.drillInAlarm') },
  drillInHold: { code: 'badRequest', said: said('refusal.drillInHold') },
  noWords: { code: 'notFound', said: said('refusal.noWords') },
  noDrill: { code: 'notFound', said: said('refusal.noDrill') },
  nothingHere: { code: 'notFound', said: said('refusal.nothingHere') },
  unknownIncident: { code: 'notFound', said: said('refusal.unknownIncident') },
  simulatedJoins: { code: 'badRequest', said: said('refusal.simulatedJoins') },
  onlookerChanges: { code: 'notAllowed', said: said('refusal.onlookerChanges') },
  ownAthleteOnly: { code: 'notAllowed', said: said('refusal.ownAthleteOnly') },
  unknownMark: { code: 'unknownMark', said: said('refusal.unknownMark') },
  unknownHold: { code: 'unknownHold', said: said('refusal.unknownHold') },
  holdGoesOn: { code: 'unknownHold', said: said('refusal.holdGoesOn') },
  changeNotSaved: {
    code: 'recorderFailed',
    said: said('refusal.changeNotSaved'),
  },
  floorLoweredDuringHold: {
    code: 'floorLoweredDuringHold',
    said: said('refusal.floorLoweredDuringHold'),
  },
} as const satisfies Record<string, Refusal>;

/** It stands, but only in memory. `reason` is what the recorder says of it. */
export const notSavedYet = (reason: Said): Refusal => ({
  code: 'recorderFailed',
  said: said(notSavedYetCode, { reason }),
});

/** `reason` is what the recorder says of it. */
export const recordingNotStarted = (reason: Said): Refusal => ({
  code: 'recorderFailed',
  said: said('refusal.recordingNotStarted', { reason }),
});
