// Body Sensor Location, characteristic 0x2A38 (Heart Rate Service 1.0 s3.2): one byte.

import type { Result } from '../result.ts';
import { ok } from '../result.ts';
import type { DiscardCode } from './discard-reason.ts';
import { checkLength, discard } from './discard-reason.ts';

const locations = ['other', 'chest', 'wrist', 'finger', 'hand', 'earLobe', 'foot'] as const;
export type BodySensorLocation = (typeof locations)[number];

export function decodeBodySensorLocation(
  bytes: Uint8Array,
): Result<{ readonly location: BodySensorLocation }, DiscardCode> {
  const wrongLength = checkLength(bytes, 1, false);
  if (wrongLength !== undefined) return wrongLength;
  const location = locations[bytes[0]!];
  return location === undefined ? discard('outOfRange') : ok({ location });
}
