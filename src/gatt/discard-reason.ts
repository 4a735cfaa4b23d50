// Why bytes did not become a reading: a stable code, for counting.

import { failed } from '../result.ts';

export type DiscardCode =
  | 'empty'
  | 'truncated'
  | 'trailingBytes'
  | 'outOfRange'
  | 'badOperator'
  | 'notText'
  | 'unknownCharacteristic';

/** A failed `Result` with the given reason. */
export const discard = (code: DiscardCode): { readonly ok: false; readonly reason: DiscardCode } =>
  failed(code);

/** Compares a length with the one the flags ask for; answers with the discard or undefined when it fits. */
export function checkLength(
  bytes: Uint8Array,
  expectedByteCount: number,
  mayBeLonger: boolean,
): { readonly ok: false; readonly reason: DiscardCode } | undefined {
  if (bytes.length === 0) return discard('empty');
  if (bytes.length < expectedByteCount) return discard('truncated');
  return bytes.length > expectedByteCount && !mayBeLonger ? discard('trailingBytes') : undefined;
}
