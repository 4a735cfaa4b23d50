// Battery Level, characteristic 0x2A19 (Battery Service 1.0 s3.1): one byte, 0 to 100 %.

import type { Result } from '../result.ts';
import { ok } from '../result.ts';
import type { DiscardCode } from './discard-reason.ts';
import { checkLength, discard } from './discard-reason.ts';

export function decodeBatteryLevel(
  bytes: Uint8Array,
): Result<{ readonly batteryPercent: number }, DiscardCode> {
  const wrongLength = checkLength(bytes, 1, false);
  if (wrongLength !== undefined) return wrongLength;
  const batteryPercent = bytes[0]!;
  return batteryPercent > 100 ? discard('outOfRange') : ok({ batteryPercent });
}
