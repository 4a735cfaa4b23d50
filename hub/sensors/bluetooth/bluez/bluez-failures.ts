// What a failed call means: for a radio, for an attempt to connect, for a question to a sensor. Error names are those of
// BlueZ's D-Bus documentation (doc/*-api.txt) and of the D-Bus specification; the sentences beside `Failed` and
// `NotPermitted` are from its source (src/gatt-client.c, create_gatt_dbus_error; src/device.c).

import { type Said, said } from '../../../../shared/said.ts';
import type { RadioProblem } from '../radio.ts';
import { busEnded, CallFailure, unanswered } from './bus-client.ts';

type Refusal = 'refused' | 'locked' | 'noAnswer' | 'missing';

const bluezError = (name: string): string => `org.bluez.Error.${name}`;
const busError = (name: string): string => `org.freedesktop.DBus.Error.${name}`;

/** Whoever was to answer is not there. */
const absent: readonly string[] = [
  busEnded,
  ...['ServiceUnknown', 'NameHasNoOwner', 'NoReply', 'Disconnected', 'Spawn.ChildExited'].map(busError),
];

export const failureOf = (error: unknown): CallFailure =>
  error instanceof CallFailure
    ? error
    : new CallFailure('slackwater.Fault', error instanceof Error ? error.message : String(error));

/** What keeps the whole radio from working. */
export function problemOfFailure({ errorName, message }: CallFailure): {
  readonly problem: RadioProblem;
  readonly reason: Said | null;
} {
  if (errorName === unanswered) return { problem: 'noDaemon', reason: said('radio.noAnswer') };
  if (errorName === busEnded) return { problem: 'noDaemon', reason: said('radio.connectionEnded') };
  if (absent.includes(errorName) || errorName.startsWith(busError('Spawn')))
    return { problem: 'noDaemon', reason: null };
  if (errorName === busError('AccessDenied') || errorName === busError('AuthFailed'))
    return { problem: 'noPermission', reason: null };
  if (errorName === bluezError('NotReady')) return { problem: 'adapterOff', reason: null };
  if (errorName === busError('UnknownObject')) return { problem: 'noAdapter', reason: null };
  return { problem: 'radioProcessFailed', reason: said('said.asTold', { text: message }) };
}

/** Why an attempt to connect came to nothing. */
export function connectFailureOf({ errorName, message }: CallFailure): {
  readonly reason: Said;
  readonly isLimit: boolean;
} {
  const isLimit = /limit|too many|resources/i.test(message);
  if (errorName === busError('UnknownObject') || errorName === bluezError('DoesNotExist'))
    return { reason: said('link.notHeardSinceStart'), isLimit };
  if (errorName === unanswered) return { reason: said('radio.noAnswer'), isLimit };
  if (/key-missing|authentication|encryption/i.test(`${errorName} ${message}`))
    return { reason: said('link.keyRefused'), isLimit };
  if (/abort|timeout|timed out|not.*established/i.test(message))
    return { reason: said('link.notEstablished'), isLimit };
  return { reason: said('said.asTold', { text: message }), isLimit };
}

/** What a sensor, or BlueZ for it, makes of a question. */
export function refusalOf({ errorName, message }: CallFailure): {
  readonly refusal: Refusal;
  readonly reason: Said;
} {
  if (errorName === unanswered || errorName === busError('NoReply'))
    return { refusal: 'noAnswer', reason: said('link.didNotAnswer') };
  if (isLocked(errorName, message)) return { refusal: 'locked', reason: said('link.locked') };
  if (errorName === busError('UnknownObject') || errorName === bluezError('DoesNotExist'))
    return { refusal: 'missing', reason: said('link.noneThere') };
  return { refusal: 'refused', reason: said('said.asTold', { text: message }) };
}

function isLocked(errorName: string, message: string): boolean {
  if (errorName === bluezError('NotAuthorized')) return true;
  // Insufficient authentication, authorization, key size, encryption: Core 5.3 Vol 3 Part F s3.4.1.1.
  if (/att error: 0x(05|08|0c|0f)\b/i.test(message)) return true;
  return (
    (errorName === bluezError('NotPermitted') || errorName === bluezError('Failed')) &&
    /not paired|authenticat|encrypt|key size/i.test(message)
  );
}

/** Why pairing came to nothing. */
export function pairingFailureOf({ errorName, message }: CallFailure): Said {
  switch (errorName) {
    case bluezError('AuthenticationFailed'):
      return said('link.codeRefused');
    case bluezError('AuthenticationCanceled'):
    case bluezError('AuthenticationRejected'):
      return said('link.pairingCancelled');
    case bluezError('AuthenticationTimeout'):
    case unanswered:
      return said('link.pairingLate');
    default:
      return said('said.asTold', { text: message });
  }
}

/** BlueZ 5.82 and later say why a link ended (Device1.Disconnected); before, nobody does. */
export function endOf(reasonName: string): Said {
  switch (reasonName) {
    case 'org.bluez.Reason.Timeout':
      return said('link.outOfRange');
    case 'org.bluez.Reason.Local':
      return said('link.hubEnded');
    case 'org.bluez.Reason.Remote':
      return said('link.sensorEnded');
    case 'org.bluez.Reason.Authentication':
      return said('link.keyRefused');
    default:
      return said('link.noReason');
  }
}
