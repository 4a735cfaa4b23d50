// Units as types: times of different zero do not mix, and percentages and rates are not plain numbers.
// Everything that crosses a module boundary uses these; arithmetic inside a function may use plain numbers.

declare const unit: unique symbol;

/** Milliseconds on a monotonic clock whose zero is the session's start. The only time the core computes with. */
export type MonotonicMs = number & { readonly [unit]: 'MonotonicMs' };

/** Milliseconds of the hub process's monotonic clock (arrival stamps), before a session's zero is subtracted. */
export type ProcessMs = number & { readonly [unit]: 'ProcessMs' };

/** Unix time in milliseconds, UTC. For labels, storage and export only: it can jump. */
export type WallMs = number & { readonly [unit]: 'WallMs' };

/** A percentage, 0 to 100 where it is a saturation or a battery. */
export type Percent = number & { readonly [unit]: 'Percent' };

/** Names a plain number as session-monotonic milliseconds. */
export const monotonicMs = (value: number): MonotonicMs => value as MonotonicMs;
/** Names a plain number as process-monotonic milliseconds. */
export const processMs = (value: number): ProcessMs => value as ProcessMs;
/** Names a plain number as Unix milliseconds. */
export const wallMs = (value: number): WallMs => value as WallMs;
/** Names a plain number as a percentage. */
export const percent = (value: number): Percent => value as Percent;
