// Lengths of pools and of what is swum in them, as people of that pool say them. Kept in metres, whatever the pool: one of 25
// yards is kept as 22.86 m and said in yards, one of 16 2/3 m is kept to the last digit and said in thirds.

/** Exact by definition since 1959 (international yard). */
export const metersPerYard = 0.9144;

/** Nearer than any pool is built: a length this close to a whole or third of a unit is that. */
const nearUnits = 2e-4;

export type LengthUnit = 'm' | 'yd';

const isThirds = (count: number): boolean => Math.abs(count * 3 - Math.round(count * 3)) < nearUnits;

/** Metres, but for what is a whole or third of a yard and no whole, half or third of a metre. */
export function unitOfLength(meters: number): LengthUnit {
  const isMetric = isThirds(meters) || Math.abs(meters * 2 - Math.round(meters * 2)) < nearUnits;
  return !isMetric && isThirds(meters / metersPerYard) ? 'yd' : 'm';
}

export const countOfLength = (meters: number, unit: LengthUnit): number =>
  unit === 'yd' ? meters / metersPerYard : meters;

/** To the nearest third where the count is one, so that three lengths of 16 2/3 are 50. */
export function metersOfLength(count: number, unit: LengthUnit): number {
  const exact = Math.abs(count * 3 - Math.round(count * 3)) < 0.02 ? Math.round(count * 3) / 3 : count;
  return unit === 'yd' ? exact * metersPerYard : exact;
}

/** "25 m", "16⅔ m", "33⅓ yd", "12.5 m"; `number` writes decimals as a language does. */
export function lengthText(meters: number, number: (value: number, decimals?: number) => string): string {
  const unit = unitOfLength(meters);
  const count = countOfLength(meters, unit);
  const whole = Math.floor(count + nearUnits);
  const thirds = Math.round((count - whole) * 3);
  if (isThirds(count)) return `${number(whole)}${['', '\u2153', '\u2154'][thirds] ?? ''} ${unit}`;
  return `${number(count, Math.abs(count * 10 - Math.round(count * 10)) < nearUnits ? 1 : 2)} ${unit}`;
}

/** How many lengths of the pool a distance is, rounded up; what floating point adds to a whole number is not a length. */
export const lengthsOfPool = (distanceMeters: number, poolLengthMeters: number): number =>
  Math.max(1, Math.ceil(distanceMeters / poolLengthMeters - 1e-6));
