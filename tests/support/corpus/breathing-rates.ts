// Breathing rate in the open recordings of ordinary breathing: counted in the pressure at the mouth, and estimated from
// each photodiode at the neck. Source and licence: see apnoea-dataset.ts.

import { existsSync, readFileSync } from 'node:fs';
import { gunzipSync } from 'node:zlib';
import { breathingRhythm } from '../../../src/signal/breathing-rhythm.ts';
import { createPlethBreathing } from '../../../src/signal/pleth-breathing.ts';

export interface BreathingRates {
  readonly subject: string;
  readonly countedPerMin: number;
  /** One a photodiode; undefined where no rhythm stands out. */
  readonly estimatedPerMin: readonly (number | undefined)[];
}

/** Rows of numbers; the recorder filled the end of a file with zeros. */
function readTable(path: string): number[][] {
  return gunzipSync(readFileSync(path))
    .toString('utf8')
    .trim()
    .split('\n')
    .slice(1)
    .map((line) => line.split(',').map(Number))
    .filter((row, i) => row.every(Number.isFinite) && (row[0]! > 0 || i === 0));
}

/** Breaths a minute by upward crossings of the inspiratory pressure, counted once it has been low again. */
function countBreaths(table: readonly number[][]): number {
  const sorted = table.map((row) => row[2]!).sort((a, b) => a - b);
  const low = sorted[Math.floor(0.3 * sorted.length)]!;
  const high = sorted[Math.floor(0.9 * sorted.length)]!;
  const times: number[] = [];
  let armed = true;
  for (const row of table) {
    const share = (row[2]! - low) / (high - low);
    if (armed && share > 0.5) {
      times.push(row[0]!);
      armed = false;
    } else if (share < 0.25) {
      armed = true;
    }
  }
  return (60 * (times.length - 1)) / (times.at(-1)! - times[0]!);
}

/** Baseline of a photodiode once a second, as the recorder's own chain makes it. */
function baselineOf(table: readonly number[][], column: number): number[] {
  const breathing = createPlethBreathing();
  const out: number[] = [];
  let nextMs = 1_000;
  for (const row of table) {
    while (1_000 * row[0]! > nextMs) {
      out.push(breathing.takeUntil(nextMs).baseline);
      nextMs += 1_000;
    }
    breathing.push(1_000 * row[0]!, row[column]!);
  }
  return out.filter(Number.isFinite);
}

export function* breathingRates(folder: string): Generator<BreathingRates> {
  for (let subject = 1; subject <= 20; subject++) {
    const name = `Subject${subject}/Subject${subject}_8cmH2O_normal`;
    const mouth = `${folder}/Inline_PQ_Data/${name}.csv.gz`;
    const neck = `${folder}/Neck_Pulse_Oximeter_Data/${name}_pulse.csv.gz`;
    if (!existsSync(mouth) || !existsSync(neck)) {
      continue;
    }
    const pleth = readTable(neck);
    yield {
      subject: String(subject),
      countedPerMin: countBreaths(readTable(mouth)),
      estimatedPerMin: pleth[0]!
        .slice(1)
        .map((_, i) => breathingRhythm(baselineOf(pleth, i + 1), 1)?.breathsPerMin),
    };
  }
}

/** Near is within 2 a minute: a minute's count is itself uncertain by a breath at either end. */
export function summariseRates(rates: readonly BreathingRates[]) {
  const said = rates.flatMap(({ countedPerMin, estimatedPerMin }) =>
    estimatedPerMin.flatMap((rate) => (rate === undefined ? [] : [Math.abs(rate - countedPerMin)])),
  );
  const sorted = said.sort((a, b) => a - b);
  return {
    subjects: rates.length,
    photodiodes: rates.reduce((sum, { estimatedPerMin }) => sum + estimatedPerMin.length, 0),
    estimated: said.length,
    medianErrorPerMin: sorted[sorted.length >> 1] ?? null,
    within2PerMin: said.length === 0 ? null : said.filter((error) => error <= 2).length / said.length,
  };
}
