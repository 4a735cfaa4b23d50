// Expected outcomes as values: a decoder or parser answers with a value or with a reason, and never throws on input.

export type Result<Value, Reason = string> =
  | { readonly ok: true; readonly value: Value }
  | { readonly ok: false; readonly reason: Reason };

export const ok = <Value>(value: Value): { readonly ok: true; readonly value: Value } => ({
  ok: true,
  value,
});
export const failed = <Reason>(reason: Reason): { readonly ok: false; readonly reason: Reason } => ({
  ok: false,
  reason,
});
