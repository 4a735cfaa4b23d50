// A kept message as bytes: the length of its head (u32, little-endian), the head as JSON in UTF-8, its body.

import { createHash } from 'node:crypto';
import { gunzipSync, gzipSync } from 'node:zlib';

/** JSON that takes more than this when unpacked is refused: a session of a day for thirty takes a tenth of it. */
const mostJsonBytes = 64 * 2 ** 20;

export const sha256Of = (bytes: Uint8Array): string => createHash('sha256').update(bytes).digest('hex');

export function packKept(head: unknown, body: Uint8Array): Uint8Array<ArrayBuffer> {
  const text = new TextEncoder().encode(JSON.stringify(head));
  const packed = new Uint8Array(4 + text.length + body.length);
  new DataView(packed.buffer).setUint32(0, text.length, true);
  packed.set(text, 4);
  packed.set(body, 4 + text.length);
  return packed;
}

/** The head as JSON was, unchecked, and the body; undefined for bytes that `packKept` did not write. */
export function unpackKept(
  packed: Uint8Array,
): { readonly head: unknown; readonly body: Uint8Array } | undefined {
  if (packed.length < 4) return undefined;
  const end = 4 + new DataView(packed.buffer, packed.byteOffset, packed.length).getUint32(0, true);
  if (end > packed.length) return undefined;
  try {
    return {
      head: JSON.parse(new TextDecoder().decode(packed.subarray(4, end))),
      body: packed.subarray(end),
    };
  } catch {
    return undefined;
  }
}

export const packJson = (value: unknown): Uint8Array => gzipSync(JSON.stringify(value), { level: 6 });

/** Undefined for what `packJson` did not write. */
export function unpackJson(body: Uint8Array): unknown {
  try {
    return JSON.parse(gunzipSync(body, { maxOutputLength: mostJsonBytes }).toString('utf8'));
  } catch {
    return undefined;
  }
}
