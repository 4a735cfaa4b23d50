// The file that train.py reads. Per session: int32 rows, float32 features for the later pass, float32 features of the
// stream, uint8 held.

import { writeSync } from 'node:fs';
import { createFeatureStream, featureCount, featuresOfRecording } from '../../src/holds/row-features.ts';
import type { SecondRow } from '../../src/signal/second-rows.ts';

/** Appends a session to the open file `out`. */
export function writeTrainingSession(out: number, rows: readonly SecondRow[], held: Uint8Array): void {
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
