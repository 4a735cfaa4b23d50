// Battery Level, characteristic 0x2A19 (Battery Service 1.0 s3.1): one byte, 0 to 100 %.

import type { Result } from '../result.ts';
import { ok } from '../result.ts';
import type { DiscardReason } from './discard-reason.ts';
import { checkLength, discard } from './discard-reason.ts';

export function decodeBatteryLevel(
  bytes: Uint8Array,
): Result<{ readonly batteryPercent: number }, DiscardReason> {
  const wrongLength = checkLength('Battery level', bytes, 1, false);
  if (wrongLength !== undefined) return wrongLength;
  const batteryPercent = bytes[0]!;
  return batteryPercent > 100
    ? discard('outOfRange', `Battery level: ${batteryPercent} % is more than 100 %`)
    : ok({ batteryPercent });
}
