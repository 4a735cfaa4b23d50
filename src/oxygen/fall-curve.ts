// The shape of a saturation's fall in apnoea as a fast two-parameter family, for a filter that asks it thousands of
// times a second: lungs, arterial and venous blood in units of the oxygen used, so that any uptake fits.

import { fixedBohrFactor, saturationAt } from './dissociation.ts';
import { apnoeaPco2Rise, phPerPco2MmHg } from './gas-equations.ts';

/** Alveolar PO2 at which every curve of the table begins, mmHg; a hold that starts lower begins further along. */
export const tableStartPo2MmHg = 125;

/**
 * Ratio of blood to lung capacity, mmHg per unit of saturation (blood ml per unit over lung ml per mmHg):
 * 971 ml / 7.3 = 133 for 6.3 L; the grid spans 9 L with little blood to 1.2 L with much.
 */
const leastRatio = 40;
const mostRatio = 1_100;
const ratioCount = 36;
const logLeast = Math.log(leastRatio);
const logStep = (Math.log(mostRatio) - logLeast) / (ratioCount - 1);
/** Oxygen used, as mmHg of the lung's capacity. */
const usedStep = 3;
const usedCount = 224;

/** Arterial minus mixed venous saturation at rest: 230 ml/min over 5 L/min of 19.4 ml/dl. It stays, because flow falls as uptake does (our choice). */
const restingDifference = 230 / (5 * 10 * 1.34 * 14.5);
/** Share of the blood that is arterial (textbook, from memory). */
const arterialShare = 0.25;
/** CO2 that enters the lungs for each ml of oxygen that leaves: 0.1 to 1, falling in the hold (reference 2.14). */
const gasExchangeRatio = 0.3;
const dryMmHg = 713;
/** For the time that an amount stands for: all blood gives 971 ml per unit of saturation, 184 ml/min are used (oxygen-parameters.ts). */
const averageBloodMl = 1.34 * 14.5 * 50;
const averageUptakeMlPerS = (230 * 0.8) / 60;
const restingPh = 7.414;

const table = buildTable();

function buildTable(): Float64Array {
  const cells = new Float64Array(ratioCount * usedCount);
  for (let row = 0; row < ratioCount; row++) fillRow(cells, row);
  return cells;
}

function fillRow(cells: Float64Array, row: number): void {
  const ratio = Math.exp(logLeast + row * logStep);
  const step = 0.25;
  const perCell = usedStep / step;
  const secondsPerMmHg = averageBloodMl / ratio / averageUptakeMlPerS;
  const saturationOf = (po2: number, used: number): number => {
    const ph = restingPh + phPerPco2MmHg * apnoeaPco2Rise(used * secondsPerMmHg);
    return saturationAt(po2 * 10 ** (-fixedBohrFactor * (ph - 7.4)));
  };
  let po2 = tableStartPo2MmHg;
  let arterial = saturationOf(po2, 0);
  let venous = arterial - restingDifference;
  let volume = 1;
  for (let column = 0; column < usedCount; column++) {
    cells[row * usedCount + column] = 100 * saturationOf(po2, column * usedStep);
    for (let part = 0; part < perCell; part++) {
      const used = column * usedStep + part * step;
      const capillary = saturationOf(po2, used);
      const taken = Math.max(0, (capillary - venous) / restingDifference);
      // The lung shrinks, which concentrates what remains (Otis, Rahn & Fenn 1948, reference 2.14).
      const shrunk = ((1 - gasExchangeRatio) * taken * step) / dryMmHg;
      po2 = Math.max(3, (po2 * volume - taken * step) / Math.max(0.2, volume - shrunk));
      volume = Math.max(0.2, volume - shrunk);
      const toTissues = (capillary - arterial) / restingDifference;
      arterial += (step * toTissues) / (ratio * arterialShare);
      venous += (step * ((arterial - venous) / restingDifference - 1)) / (ratio * (1 - arterialShare));
    }
  }
}

/** Where a ratio lies in the table: whole part the row, fraction the way to the next; ratios outside take its edge. */
export function rowOf(logRatio: number): number {
  return Math.min(ratioCount - 1.000001, Math.max(0, (logRatio - logLeast) / logStep));
}

/** Where a row's whole part begins in the table; its fraction is `row % 1` of the way to the next. */
export const cellOf = (row: number): number => Math.floor(row) * usedCount;

/**
 * Saturation (%) after this much oxygen has been used (mmHg of lung capacity); before the start, the start's. `cell` and
 * `fraction` are those of a row (`rowOf`, `cellOf`). Bare numbers, because the filter asks some ten thousand times a reading.
 */
export function percentAfter(cell: number, fraction: number, usedMmHg: number): number {
  const place = Math.min(usedCount - 1.000001, Math.max(0, usedMmHg / usedStep));
  const column = Math.floor(place);
  const part = place - column;
  const one = cell + column;
  const other = one + usedCount;
  const low = table[one]! + part * (table[one + 1]! - table[one]!);
  const high = table[other]! + part * (table[other + 1]! - table[other]!);
  return low + fraction * (high - low);
}

/** Saturation (%) of a row at a column. */
function percentAt(cell: number, fraction: number, column: number): number {
  const one = table[cell + column]!;
  return one + fraction * (table[cell + usedCount + column]! - one);
}

/**
 * The last column, but for the table's last, that lies above `percent`; 0 where the first does not. Looked for from `near` on,
 * because a curve is asked again and again for nearly the same: the saturation falls with every column.
 */
export function columnAbove(cell: number, fraction: number, percent: number, near: number): number {
  let column = near;
  while (column > 0 && !(percentAt(cell, fraction, column) > percent)) column--;
  while (column < usedCount - 2 && percentAt(cell, fraction, column + 1) > percent) column++;
  return column;
}

/** Oxygen used when the saturation has fallen to `percent`; 0 above the start, the table's end below its last. `column` is `columnAbove`. */
export function usedAt(cell: number, fraction: number, percent: number, column: number): number {
  const above = percentAt(cell, fraction, column);
  if (percent >= above) return 0;
  const below = percentAfter(cell, fraction, (column + 1) * usedStep);
  const share = above > below ? (above - percent) / (above - below) : 1;
  return (column + Math.min(1, Math.max(0, share))) * usedStep;
}
