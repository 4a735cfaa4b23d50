// Record Access Control Point, characteristic 0x2A52, as the pulse oximeter service uses it (PLXS v1.0.1 Table 3.12).

import type { Result } from '../result.ts';
import { ok } from '../result.ts';
import type { DiscardCode } from './discard-reason.ts';
import { checkLength, discard } from './discard-reason.ts';
import { uint16At } from './little-endian.ts';

export type RecordAccessResponse =
  | 'success'
  | 'opCodeNotSupported'
  | 'invalidOperator'
  | 'operatorNotSupported'
  | 'invalidOperand'
  | 'noRecordsFound'
  | 'abortUnsuccessful'
  | 'procedureNotCompleted'
  | 'operandNotSupported';

const responses: readonly (RecordAccessResponse | null)[] = [
  null,
  'success',
  'opCodeNotSupported',
  'invalidOperator',
  'operatorNotSupported',
  'invalidOperand',
  'noRecordsFound',
  'abortUnsuccessful',
  'procedureNotCompleted',
  'operandNotSupported',
];

export type RecordAccess =
  | { readonly op: 'reportAllRecords' }
  | { readonly op: 'deleteAllRecords' }
  | { readonly op: 'abort' }
  | { readonly op: 'reportNumberOfAllRecords' }
  | { readonly op: 'numberOfRecords'; readonly recordCount: number }
  | { readonly op: 'response'; readonly requestOpCode: number; readonly response: RecordAccessResponse };

const nullOperator = 0;
const allRecordsOperator = 1;

/** Op codes 1-6. Only the operators that the pulse oximeter service allows are taken. */
export function decodeRecordAccess(bytes: Uint8Array): Result<RecordAccess, DiscardCode> {
  const opCode = bytes[0];
  if (opCode === undefined) return discard('empty');
  if (opCode < 1 || opCode > 6) return discard('outOfRange');
  if (bytes.length < 2) return discard('truncated');
  const isRequestWithFilter = opCode === 1 || opCode === 2 || opCode === 4;
  const expectedOperator = isRequestWithFilter ? allRecordsOperator : nullOperator;
  if (bytes[1] !== expectedOperator) {
    return discard('badOperator');
  }
  const wrongLength = checkLength(bytes, opCode >= 5 ? 4 : 2, false);
  if (wrongLength !== undefined) return wrongLength;
  switch (opCode) {
    case 1:
      return ok({ op: 'reportAllRecords' });
    case 2:
      return ok({ op: 'deleteAllRecords' });
    case 3:
      return ok({ op: 'abort' });
    case 4:
      return ok({ op: 'reportNumberOfAllRecords' });
    case 5:
      return ok({ op: 'numberOfRecords', recordCount: uint16At(bytes, 2) });
  }
  const response = responses[bytes[3]!];
  return response === undefined || response === null
    ? discard('outOfRange')
    : ok({ op: 'response', requestOpCode: bytes[2]!, response });
}
