// Why the hub did not do what it was asked: a stable code for programs, what to say to a person.

import type { ErrorCode } from '../../shared/error-codes.ts';
import type { Said } from '../../shared/said.ts';

export interface Refusal {
  readonly code: ErrorCode;
  readonly said: Said;
}
