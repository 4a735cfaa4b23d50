// Writes the open neck-pleth trials (see tests/support/corpus/apnoea-dataset.ts) as numbers for train.py, every
// photodiode a session of its own, and the trials of ordinary breathing.
// Run: npx tsx tests/training/write-real.ts FOLDER FILE SUBJECT [SUBJECT ...]

import { closeSync, existsSync, openSync, readFileSync } from 'node:fs';
import { gunzipSync } from 'node:zlib';
import { monotonicMs } from '../../shared/units.ts';
import { createSecondRows, type SecondRow } from '../../src/signal/second-rows.ts';
import { createSignalCleaner } from '../../src/signal/signal-cleaner.ts';
import { createChance } from './practice-chance.ts';
import { writeTrainingSession } from './session-file.ts';

const [folder, file, ...subjects] = process.argv.slice(2);
if (folder === undefined || file === undefined || subjects.length === 0) {
  throw new Error('usage: write-real.ts FOLDER FILE SUBJECT [SUBJECT ...]');
}
const out = openSync(file, 'w');
const chance = createChance(1);

function rowsOf(times: readonly number[], values: readonly number[]): SecondRow[] {
  const cleaner = createSignalCleaner();
  const stream = createSecondRows();
  const rows = times.flatMap((atMs, i) =>
    cleaner
      .push({
        channel: 'pleth',
        atMs: monotonicMs(atMs),
        value: values[i]!,
        sensorId: 'neck',
        quality: 'good',
        reasons: [],
      })
      .flatMap((sample) => [...stream.push(sample)]),
  );
  return [...rows, ...stream.flush()];
}

function write(rows: readonly SecondRow[], startMs: number, endMs: number): void {
  const held = Uint8Array.from(rows, (row) => {
    const inside = Math.min(row.atMs, endMs) - Math.max(row.atMs - 1_000, startMs);
    return inside > 500 ? 1 : 0;
  });
  writeTrainingSession(out, rows, held);
}

/** How much longer everything takes: people breathe and beat faster and slower than these ten. */
const stretches = [0.8, 1, 1.25] as const;

/** Rows of every photodiode of a trial. */
function photodiodes(path: string, stretch: number): SecondRow[][] {
  const table = gunzipSync(readFileSync(path))
    .toString('utf8')
    .trim()
    .split('\n')
    .slice(1)
    .map((row) => row.split(',').map(Number));
  const times = table.map((row) => 1_000 * stretch * row[0]!);
  return table[0]!.slice(1).map((_, column) =>
    rowsOf(
      times,
      table.map((row) => row[column + 1]!),
    ),
  );
}

/** A photodiode's rows with the pleth upside up and down, and with the beats alone. */
function writeAll(rows: readonly SecondRow[], startMs: number, endMs: number): void {
  for (const pleth of [1, -1, Number.NaN]) {
    // Begun later and ended sooner, as other recordings would be.
    const first = Math.floor(chance.between(0, 7));
    const last = rows.length - Math.floor(chance.between(0, 12));
    write(
      rows.slice(first, last).map((row) => ({
        ...row,
        plethBreathing: pleth * row.plethBreathing,
        plethSwing: Math.abs(pleth) * row.plethSwing,
      })),
      startMs,
      endMs,
    );
  }
}

const pathOf = (subject: string, trial: string): string =>
  `${folder}/Neck_Pulse_Oximeter_Data/Subject${subject}/Subject${subject}_${trial}_pulse.csv.gz`;
const labels = readFileSync(`${folder}/hold_labels_derived.csv`, 'utf8').trim().split('\n').slice(1);
for (const line of labels) {
  const fields = line.split(',');
  const [subject, trial] = [fields[0]!, fields[1]!];
  const path = pathOf(subject, trial);
  // Doubtful labels teach nothing.
  if (!subjects.includes(subject) || fields[7] !== 'ok' || !existsSync(path)) {
    continue;
  }
  for (const stretch of stretches) {
    for (const rows of photodiodes(path, stretch)) {
      writeAll(rows, 1_000 * stretch * Number(fields[3]), 1_000 * stretch * Number(fields[4]));
    }
  }
}
for (const subject of subjects) {
  const path = pathOf(subject, '8cmH2O_normal');
  for (const stretch of existsSync(path) ? stretches : []) {
    for (const rows of photodiodes(path, stretch)) {
      writeAll(rows, 0, 0);
    }
  }
}
closeSync(out);
