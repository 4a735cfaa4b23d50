// Device Information Service 1.1: the text characteristics 0x2A24 to 0x2A29 and the PnP ID 0x2A50.

import type { Result } from '../result.ts';
import { ok } from '../result.ts';
import type { DiscardCode } from './discard-reason.ts';
import { checkLength, discard } from './discard-reason.ts';
import { uint16At } from './little-endian.ts';

export type DeviceTextField =
  | 'modelNumber'
  | 'serialNumber'
  | 'firmwareRevision'
  | 'hardwareRevision'
  | 'softwareRevision'
  | 'manufacturerName';

/** Characteristic number to field. */
export const deviceTextFields: Readonly<Record<string, DeviceTextField>> = {
  '2a24': 'modelNumber',
  '2a25': 'serialNumber',
  '2a26': 'firmwareRevision',
  '2a27': 'hardwareRevision',
  '2a28': 'softwareRevision',
  '2a29': 'manufacturerName',
};

/** An attribute value holds at most 512 bytes (Bluetooth Core, Vol 3 Part F s3.2.9). */
const mostBytes = 512;

/** UTF-8 text. Ends at the first NUL (some firmware pads with them); other control characters become spaces. */
export function decodeDeviceText(bytes: Uint8Array): Result<{ readonly text: string }, DiscardCode> {
  if (bytes.length > mostBytes) {
    return discard('trailingBytes');
  }
  const end = bytes.indexOf(0);
  let escaped = '';
  for (const byte of end < 0 ? bytes : bytes.subarray(0, end)) {
    escaped += `%${byte < 16 ? '0' : ''}${byte.toString(16)}`;
  }
  try {
    // The language's own UTF-8 decoder; the core has no TextDecoder.
    const text = decodeURIComponent(escaped);
    return ok({ text: text.replace(/\p{Cc}/gu, ' ').trim() });
  } catch {
    return discard('notText');
  }
}

export interface PnpId {
  readonly vendorIdSource: 'bluetoothSig' | 'usbForum';
  readonly vendorId: number;
  readonly productId: number;
  readonly productVersion: number;
}

export function decodePnpId(bytes: Uint8Array): Result<PnpId, DiscardCode> {
  const wrongLength = checkLength(bytes, 7, false);
  if (wrongLength !== undefined) return wrongLength;
  const source = bytes[0]!;
  if (source !== 1 && source !== 2) {
    return discard('outOfRange');
  }
  return ok({
    vendorIdSource: source === 1 ? 'bluetoothSig' : 'usbForum',
    vendorId: uint16At(bytes, 1),
    productId: uint16At(bytes, 3),
    productVersion: uint16At(bytes, 5),
  });
}
