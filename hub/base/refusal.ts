// Why the hub did not do what it was asked: a stable code for programs, a sentence for a person.

import type { ErrorCode } from '../../shared/error-codes.ts';

export interface Refusal {
  readonly code: ErrorCode;
  readonly message: string;
}
