// Writes real recordings' rows with the features that src/holds makes of them, for check-features.py.
// Run: npx tsx tests/training/write-features.ts DATASETS_FOLDER OUT.bin
// Per recording: int32 rows, float32 x 5 a row, float32 x 24 a row of the whole recording, the same of the stream.

import { closeSync, openSync, writeSync } from 'node:fs';
import { createFeatureStream, featureCount, featuresOfRecording } from '../../src/holds/row-features.ts';
import { breathingRecordings } from './real-breathing.ts';
import { numbersOf, rowsOf } from './real-rows.ts';

const [folder, file] = process.argv.slice(2);
if (folder === undefined || file === undefined) {
  throw new Error('usage: write-features.ts DATASETS_FOLDER OUT.bin');
}
const out = openSync(file, 'w');
for (const { name, samples } of breathingRecordings(folder)) {
  if (!/01|rest|exercise/.test(name)) continue;
  const rows = rowsOf(samples).slice(0, 4_000);
  const stream = createFeatureStream();
  const live = new Float32Array(rows.length * featureCount);
  rows.forEach((row, r) => {
    live.set(stream(row), r * featureCount);
  });
  writeSync(out, new Int32Array([rows.length]));
  writeSync(out, numbersOf(rows));
  writeSync(out, featuresOfRecording(rows));
  writeSync(out, live);
}
closeSync(out);
