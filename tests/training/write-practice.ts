// Writes practice sessions as numbers for train.py. Run: npx tsx tests/training/write-practice.ts FILE COUNT [FIRST_SEED]

import { closeSync, openSync } from 'node:fs';
import { practiceSession } from './practice-session.ts';
import { writeTrainingSession } from './session-file.ts';

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
  writeTrainingSession(out, rows, held);
}
closeSync(out);
