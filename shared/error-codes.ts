// The codes that may cross the wire, and the close codes of the socket. Texts are made beside the cause.

import * as z from 'zod/mini';

export const errorCodeSchema = z.enum([
  'badMessage',
  'wrongProtocolVersion',
  'notAllowed',
  'notJoined',
  'codeRefused',
  'lanOff',
  'unknownDevice',
  'noSession',
  'sessionRunning',
  'unknownAthlete',
  'unknownSession',
  'unknownMark',
  'unknownHold',
  'noAthletes',
  'floorLoweredDuringHold',
  'recorderFailed',
  'tooManyRequests',
  'needsChoice',
  'planRunning',
  'badRequest',
  'notFound',
  'internal',
]);
export type ErrorCode = z.infer<typeof errorCodeSchema>;

/** WebSocket close codes of our own (RFC 6455 s7.4.2 leaves 4000-4999 to applications). */
export const closeCodes = {
  wrongProtocolVersion: 4001,
  badMessage: 4002,
  tooSlow: 4003,
  notAllowed: 4004,
  hubStopping: 4005,
  /** More came than any page sends. */
  flooding: 4006,
} as const;
