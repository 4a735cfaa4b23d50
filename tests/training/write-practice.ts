// Writes practice sessions as numbers for train.py. Run: npx tsx tests/training/write-practice.ts FILE COUNT [FIRST_SEED]
// Per session: int32 rows, then float32 features for the later pass, float32 features of the stream, uint8 held.

import { closeSync, openSync, writeSync } from 'node:fs';
import { createFeatureStream, featureCount, featuresOfRecording } from '../../src/holds/row-features.ts';
import { practiceSession } from './practice-session.ts';

const [file, count, firstSeed = '1'] = process.argv.slice(2);
if (file === undefined || count === undefined) {
  throw new Error('usage: write-practice.ts FILE COUNT [FIRST_SEED]');
}
const out = openSync(file, 'w');
for (let i = 0; i < Number(count); i++) {
  const { rows, held } = practiceSession(Number(firstSeed) + i);
  if (rows.length < 40) {
    continue;
  }
  const stream = createFeatureStream();
  const live = new Float32Array(rows.length * featureCount);
  rows.forEach((row, r) => {
    live.set(stream(row), r * featureCount);
  });
  writeSync(out, new Int32Array([rows.length]));
  writeSync(out, featuresOfRecording(rows));
  writeSync(out, live);
  writeSync(out, held);
}
closeSync(out);
