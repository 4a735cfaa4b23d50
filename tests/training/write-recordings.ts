// Writes real recordings as rows for train.py: backgrounds (people who breathe throughout, by halves)
// and the open 10 and 20 s holds with a neck pleth, every photodiode a session of its own.
// Run: npx tsx tests/training/write-recordings.ts DATASETS_FOLDER OUT.bin
// Per session: int32 2 x set + half or -1 - subject, int32 rows, float32 x 5 a row (rate, source, saturation, pleth, swing), uint8 held.

import { closeSync, existsSync, openSync, readFileSync, writeSync } from 'node:fs';
import { gunzipSync } from 'node:zlib';
import { monotonicMs } from '../../shared/units.ts';
import type { Sample } from '../../src/samples/sample.ts';
import type { SecondRow } from '../../src/signal/second-rows.ts';
import { createChance } from './practice-chance.ts';
import { breathingRecordings } from './real-breathing.ts';
import { numbersOf, rowsOf } from './real-rows.ts';

const [folder, file] = process.argv.slice(2);
if (folder === undefined || file === undefined) {
  throw new Error('usage: write-recordings.ts DATASETS_FOLDER OUT.bin');
}
const out = openSync(file, 'w');
const chance = createChance(1);
function write(id: number, rows: readonly SecondRow[], held: Uint8Array): void {
  writeSync(out, new Int32Array([id, rows.length]));
  writeSync(out, numbersOf(rows));
  writeSync(out, held);
}

/** As a strap without beats would have shown them: the mean of the last four, each second. */
function ratesOfBeats(samples: readonly Sample[]): Sample[] {
  const rates: Sample[] = [];
  let recent: number[] = [];
  let nextMs = samples[0]?.atMs ?? 0;
  for (const { channel, atMs, value } of samples) {
    if (channel !== 'rrIntervalMs' || value < 300 || value > 2_500) continue;
    for (; nextMs <= atMs; nextMs += 1_000) {
      if (recent.length === 0) continue;
      const bpm = Math.round(60_000 / (recent.reduce((sum, rr) => sum + rr, 0) / recent.length));
      rates.push({
        channel: 'heartRateBpm',
        atMs: monotonicMs(nextMs),
        value: bpm,
        sensorId: 'strap',
        quality: 'good',
        reasons: [],
      });
    }
    recent = [...recent.slice(-3), value];
  }
  return rates;
}

const sets = new Map<string, number>();
for (const { set, name, part, samples } of breathingRecordings(folder)) {
  if (part === 'unseen' || samples.length === 0) continue;
  const id = sets.get(set) ?? sets.size;
  sets.set(set, id);
  const has = (channel: Sample['channel']): boolean => samples.some((sample) => sample.channel === channel);
  const only = (...channels: Sample['channel'][]): Sample[] =>
    samples.filter(({ channel }) => channels.includes(channel));
  const variants = [samples];
  if (has('rrIntervalMs')) {
    if (has('heartRateBpm')) variants.push(only('heartRateBpm', 'spo2Percent', 'pulseRateBpm'));
    else variants.push(ratesOfBeats(samples));
    if (has('pleth')) variants.push(only('rrIntervalMs', 'spo2Percent'), only('pleth'));
  }
  if (has('pulseRateBpm') && has('heartRateBpm')) variants.push(only('spo2Percent', 'pulseRateBpm'));
  for (const variant of variants) {
    const rows = rowsOf(variant);
    write(2 * id + part, rows, new Uint8Array(rows.length));
  }
  console.log(`${set} ${name}: ${variants.length} variants, ${samples.length} samples`);
}

/** How much longer everything takes: people breathe and beat faster and slower than these ten. */
const stretches = [0.8, 1, 1.25] as const;

/** A photodiode's rows with the pleth upside up and down, and with the beats alone. */
function writeTrial(subject: number, path: string, startS: number, endS: number): void {
  const table = gunzipSync(readFileSync(path))
    .toString('utf8')
    .trim()
    .split('\n')
    .slice(1)
    .map((row) => row.split(',').map(Number));
  for (const stretch of stretches) {
    const [startMs, endMs] = [1_000 * stretch * startS, 1_000 * stretch * endS];
    for (let column = 1; column < table[0]!.length; column++) {
      const whole = rowsOf(
        table.map((row) => ({
          channel: 'pleth',
          atMs: monotonicMs(1_000 * stretch * row[0]!),
          value: row[column]!,
          sensorId: 'neck',
          quality: 'good',
          reasons: [],
        })),
      );
      for (const pleth of [1, -1, Number.NaN]) {
        // Begun later and ended sooner, as other recordings would be.
        const first = Math.floor(chance.between(0, 7));
        const rows = whole.slice(first, whole.length - Math.floor(chance.between(0, 12))).map((row) => ({
          ...row,
          plethBreathing: pleth * row.plethBreathing,
          plethSwing: Math.abs(pleth) * row.plethSwing,
        }));
        const held = Uint8Array.from(rows, (row) => {
          const inside = Math.min(row.atMs, endMs) - Math.max(row.atMs - 1_000, startMs);
          return inside > 500 ? 1 : 0;
        });
        write(-1 - subject, rows, held);
      }
    }
  }
}

const trials = `${folder}/simulated-apnoea`;
const pathOf = (subject: string, trial: string): string =>
  `${trials}/Neck_Pulse_Oximeter_Data/Subject${subject}/Subject${subject}_${trial}_pulse.csv.gz`;
const labels = existsSync(trials)
  ? readFileSync(`${trials}/hold_labels_derived.csv`, 'utf8').trim().split('\n').slice(1)
  : [];
const subjects = new Set<string>();
for (const line of labels) {
  const fields = line.split(',');
  const path = pathOf(fields[0]!, fields[1]!);
  if (!existsSync(path)) continue;
  // Doubtful labels teach nothing.
  if (fields[7] === 'ok') writeTrial(Number(fields[0]), path, Number(fields[3]), Number(fields[4]));
  if (!subjects.has(fields[0]!)) {
    subjects.add(fields[0]!);
    const breathing = pathOf(fields[0]!, '8cmH2O_normal');
    if (existsSync(breathing)) writeTrial(Number(fields[0]), breathing, 0, 0);
  }
}
closeSync(out);
