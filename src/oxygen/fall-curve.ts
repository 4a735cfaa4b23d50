// The shape of a saturation's fall in apnoea as a fast two-parameter family, for a filter that asks it thousands of
// times a second. Lung and blood give up oxygen together: t(P) * uptake = lung * (P0 - P) + blood * (S0 - S(P)).

import { fixedBohrFactor, saturationAt } from './dissociation.ts';

/** Alveolar PO2 just after the last deep breath, mmHg: 125-130 by the store model; a time shift stands for any other. */
const startPo2MmHg = 125;
/** pH falls as CO2 is kept: about 0.09 over a fall of 110 mmHg (store model; reference 2.20 for the size). */
const phPerMmHgUsed = -0.0008;

/**
 * Ratio of blood to lung capacity, mmHg per unit of saturation (blood ml per unit over lung ml per mmHg):
 * 1005 ml / 8.1 = 124 for 7 L; the grid spans 9 L with little blood to 2 L with much.
 */
const leastRatio = 40;
const mostRatio = 700;
const ratioCount = 32;
const logLeast = Math.log(leastRatio);
const logStep = (Math.log(mostRatio) - logLeast) / (ratioCount - 1);
/** Oxygen used, as mmHg of the lung's capacity. */
const usedStep = 3;
const usedCount = 224;

const table = buildTable();

function buildTable(): Float64Array {
  const cells = new Float64Array(ratioCount * usedCount);
  for (let row = 0; row < ratioCount; row++) {
    const ratio = Math.exp(logLeast + row * logStep);
    const start = saturationAt(startPo2MmHg);
    let po2 = startPo2MmHg;
    let used = 0;
    let saturation = start;
    for (let column = 0; column < usedCount; column++) {
      const target = column * usedStep;
      while (used < target && po2 > 3) {
        // Steps of 0.05 mmHg: the error of the table stays below 0.02 points.
        po2 -= 0.05;
        saturation = saturationAt(po2 * 10 ** (-fixedBohrFactor * phPerMmHgUsed * used));
        used = startPo2MmHg - po2 + ratio * (start - saturation);
      }
      cells[row * usedCount + column] = 100 * saturation;
    }
  }
  return cells;
}

/** Where a ratio lies in the table: whole part the row, fraction the way to the next; ratios outside take its edge. */
export function rowOf(logRatio: number): number {
  return Math.min(ratioCount - 1.000001, Math.max(0, (logRatio - logLeast) / logStep));
}

/**
 * Saturation (%) after this much oxygen has been used (mmHg of lung capacity); before the start, the start's.
 * `row` as `rowOf` answers it. Bare numbers, because the filter asks some ten thousand times a reading.
 */
export function percentAfter(row: number, usedMmHg: number): number {
  const whole = Math.floor(row);
  const place = Math.min(usedCount - 1.000001, Math.max(0, usedMmHg / usedStep));
  const column = Math.floor(place);
  const part = place - column;
  const one = whole * usedCount + column;
  const other = one + usedCount;
  const low = table[one]! + part * (table[one + 1]! - table[one]!);
  const high = table[other]! + part * (table[other + 1]! - table[other]!);
  return low + (row - whole) * (high - low);
}

/** Oxygen used when the saturation has fallen to `percent`; 0 above the start, the table's end below its last. */
export function usedAt(row: number, percent: number): number {
  const whole = Math.floor(row);
  const part = row - whole;
  const first = whole * usedCount;
  let low = 0;
  let high = usedCount - 1;
  if (percent >= percentAfter(row, 0)) return 0;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    const one = table[first + middle]!;
    if (one + part * (table[first + usedCount + middle]! - one) > percent) low = middle;
    else high = middle;
  }
  const above = percentAfter(row, low * usedStep);
  const below = percentAfter(row, high * usedStep);
  const share = above > below ? (above - percent) / (above - below) : 1;
  return (low + Math.min(1, Math.max(0, share))) * usedStep;
}
