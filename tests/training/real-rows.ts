// Rows of a real recording, and as the five numbers a row that the training reads.

import type { Sample } from '../../src/samples/sample.ts';
import { createSecondRows, type SecondRow } from '../../src/signal/second-rows.ts';
import { createSignalCleaner } from '../../src/signal/signal-cleaner.ts';

const sources = ['none', 'rr', 'heartRate', 'pulseRate'] as const;

export function rowsOf(samples: readonly Sample[]): SecondRow[] {
  const cleaner = createSignalCleaner();
  const stream = createSecondRows();
  const rows = samples.flatMap((raw) => cleaner.push(raw).flatMap((sample) => [...stream.push(sample)]));
  return [...rows, ...stream.flush()];
}

/** Heart rate, its source, saturation, pleth baseline and swing; NaN where not known. */
export function numbersOf(rows: readonly SecondRow[]): Float32Array {
  const numbers = new Float32Array(rows.length * 5);
  rows.forEach((row, i) => {
    numbers.set(
      [
        row.heartRateBpm,
        sources.indexOf(row.heartRateSource),
        row.spo2Percent,
        row.plethBreathing,
        row.plethSwing,
      ],
      5 * i,
    );
  });
  return numbers;
}
