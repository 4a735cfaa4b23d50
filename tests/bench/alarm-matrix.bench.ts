// The alarm matrix whole: prints it as the table of hub/outputs/ALARM-MATRIX.md and ends with 1 where a crossing went unheard.
// `npx tsx tests/bench/alarm-matrix.bench.ts`

import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { floorAsks, runMatrix } from '../support/alarm-corpus/alarm-matrix.ts';
import { realCrossings, simulatedCrossings } from '../support/alarm-corpus/crossings.ts';
import { breathingFaults, faultSequences } from '../support/alarm-corpus/fault-sequences.ts';

const simulated = simulatedCrossings(Array.from({ length: 36 }, (_, index) => 5_000 + index));
const real = realCrossings();
const all = [...faultSequences, ...breathingFaults];
const rows = runMatrix(all, [...simulated, ...real]);
console.log(
  `${all.length} fault sequences x ${simulated.length} simulated and ${real.length} real crossings`,
);
console.log('| fault | crossings | without a high alarm | median delay | worst delay |');
console.log('| --- | --- | --- | --- | --- |');
for (const { fault, crossings, without, missed, medianDelayS, worstDelayS } of rows) {
  console.log(
    `| ${fault} | ${crossings} | ${without} | ${medianDelayS.toFixed(1)} s | ${worstDelayS.toFixed(1)} s |`,
  );
  if (missed.length > 0) console.error(`  ${fault}: ${missed.join(', ')}`);
}
const floor = floorAsks([...simulated, ...real]);
console.log(`a lower floor asked for in ${floor.asked} seconds of marked holds: taken in ${floor.taken}`);
writeFileSync(
  fileURLToPath(new URL('alarm-matrix-results.json', import.meta.url)),
  `${JSON.stringify(rows, null, 2)}\n`,
);
process.exitCode = rows.some(({ without }) => without > 0) || floor.taken > 0 ? 1 : 0;
