// How a measure is named and written wherever it leaves the program, so that one thing is one number in all of them.

/** `spo2AtStartPercent` becomes `spo2_at_start_percent`, `timeBelow90S` becomes `time_below_90_s`. */
export function measureName(key: string): string {
  return key
    .replace(/([a-z0-9])([A-Z])/g, '$1_$2')
    .replace(/([A-Z])([A-Z][a-z])/g, '$1_$2')
    .replace(/(?<!spo)(?<=[a-z])(\d)/gi, '_$1')
    .toLowerCase();
}

/** To a thousandth of its unit: beyond what any sensor here resolves. */
export const measureNumber = (value: number): number => Math.round(value * 1_000) / 1_000;

/** The same as text, without an exponent. */
export const measureText = (value: number): string => String(measureNumber(value));
