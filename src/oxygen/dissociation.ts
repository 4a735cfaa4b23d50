// How much oxygen haemoglobin holds at a given pressure, and back: the standard curve, its exact inverse, and its
// shifts with acidity and temperature. Saturations are fractions 0..1, pressures mmHg, temperatures degrees C.

/**
 * Saturation on the standard curve (37 C, pH 7.40, PCO2 40 mmHg).
 * Source: Severinghaus JW, J Appl Physiol 1979;46:599-602, Eq 1. Within 0.55 points of its table.
 */
export function saturationAt(po2MmHg: number): number {
  if (po2MmHg <= 0) return 0;
  return 1 / (23_400 / (po2MmHg ** 3 + 150 * po2MmHg) + 1);
}

/**
 * Pressure at which the standard curve has this saturation: the exact inverse of `saturationAt`.
 * Source: Ellis RK, J Appl Physiol 1989;67:902 (closed form of the cubic). 0 below 0; infinite at 1.
 */
export function po2At(saturation: number): number {
  if (saturation <= 0) return 0;
  if (saturation >= 1) return Number.POSITIVE_INFINITY;
  const a = 11_700 / (1 / saturation - 1);
  const b = Math.sqrt(125_000 + a * a);
  // b - a loses all its digits for large a; its product with b + a is 125 000.
  const sum = a + b;
  return Math.cbrt(sum) - Math.cbrt(125_000 / sum);
}

/** Change of ln PO2 per degree C at equal saturation. Source: Severinghaus 1979, Eq 3. */
export function temperatureCoefficient(po2MmHg: number): number {
  return 0.058 / ((0.243 * (po2MmHg / 100)) ** 3.88 + 1) + 0.013;
}

/** Change of ln PO2 per pH at equal saturation (natural logarithm). Source: Severinghaus 1979, Eq 4. */
export function bohrCoefficient(po2MmHg: number): number {
  return (po2MmHg / 26.6) ** 0.184 - 2.2;
}

/** Classical fixed Bohr factor, d log10 P50 / d pH. Source: Severinghaus, J Appl Physiol 1966;21:1108 (from memory). */
export const fixedBohrFactor = -0.48;

/** Saturation at another pH, by the fixed Bohr factor. */
export function saturationAtPh(po2MmHg: number, ph: number): number {
  return saturationAt(po2MmHg * 10 ** (-fixedBohrFactor * (ph - 7.4)));
}

/** Pressure for a saturation at another pH, by the fixed Bohr factor: the exact inverse of `saturationAtPh`. */
export function po2AtPh(saturation: number, ph: number): number {
  return po2At(saturation) * 10 ** (fixedBohrFactor * (ph - 7.4));
}

/**
 * Saturation at another pH and temperature with Severinghaus's own variable coefficients (Eq 3 and 4), which are
 * taken at the given pressure.
 */
export function saturationAtConditions(po2MmHg: number, ph: number, temperatureC: number): number {
  if (po2MmHg <= 0) return 0;
  const shift =
    -bohrCoefficient(po2MmHg) * (ph - 7.4) - temperatureCoefficient(po2MmHg) * (temperatureC - 37);
  return saturationAt(po2MmHg * Math.exp(shift));
}

/**
 * Saturation by Kelman's subroutine, kept only to cross-check the standard curve with an independent one.
 * Source: Kelman GR, J Appl Physiol 1966;21:1375-1376; below 10 mmHg the quadratic (from memory), where the
 * quartic turns negative.
 */
export function kelmanSaturation(
  po2MmHg: number,
  conditions: { readonly ph: number; readonly pco2MmHg: number; readonly temperatureC: number } = {
    ph: 7.4,
    pco2MmHg: 40,
    temperatureC: 37,
  },
): number {
  const exponent =
    0.024 * (37 - conditions.temperatureC) +
    0.4 * (conditions.ph - 7.4) +
    0.06 * (Math.log10(40) - Math.log10(conditions.pco2MmHg));
  const x = po2MmHg * 10 ** exponent;
  if (x <= 0) return 0;
  if (x < 10) return 0.003683 * x + 0.000584 * x * x;
  const top = x * (x * (x * (x - 67.073989) + 2121.401) - 8532.2289);
  const bottom = x * (x * (x * (x - 67.104406) + 2396.1674) - 31_346.258) + 935_960.87;
  return top / bottom;
}
