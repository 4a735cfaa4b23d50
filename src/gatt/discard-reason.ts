// Why bytes did not become a reading: a stable code for counting and one sentence for a person.

import { failed } from '../result.ts';

export type DiscardCode =
  | 'empty'
  | 'truncated'
  | 'trailingBytes'
  | 'outOfRange'
  | 'badOperator'
  | 'notText'
  | 'unknownCharacteristic';

export interface DiscardReason {
  readonly code: DiscardCode;
  readonly message: string;
}

/** A failed `Result` with the given reason. */
export const discard = (
  code: DiscardCode,
  message: string,
): { readonly ok: false; readonly reason: DiscardReason } => failed({ code, message });

/** Compares a length with the one the flags ask for; answers with the discard or undefined when it fits. */
export function checkLength(
  what: string,
  bytes: Uint8Array,
  expectedByteCount: number,
  mayBeLonger: boolean,
): { readonly ok: false; readonly reason: DiscardReason } | undefined {
  if (bytes.length === 0) return discard('empty', `${what}: no bytes`);
  if (bytes.length < expectedByteCount) {
    return discard(
      'truncated',
      `${what}: ${bytes.length} bytes where the flags ask for ${expectedByteCount}`,
    );
  }
  if (bytes.length > expectedByteCount && !mayBeLonger) {
    return discard(
      'trailingBytes',
      `${what}: ${bytes.length} bytes where the flags ask for ${expectedByteCount}`,
    );
  }
  return undefined;
}
