// The session machine explored at length: `npx tsx tests/bench/session-machine.bench.ts [steps] [seed]`; 1,000,000 steps unless
// told otherwise. Prints what was done, or the shortest way to a broken promise, and ends with 1 then.

import fc from 'fast-check';
import { explore, happenings } from '../support/session-machine.ts';

const wanted = Number(process.argv[2] ?? 1_000_000);
const seed = Number(process.argv[3] ?? 20_311_105);
let steps = 0;
let worlds = 0;
const begunMs = performance.now();
for (let round = 0; steps < wanted; round += 1) {
  const found = await fc.check(
    fc.asyncProperty(fc.commands([...happenings], { maxCommands: 400, size: 'max' }), async (commands) => {
      steps += await explore(commands);
      worlds += 1;
    }),
    { numRuns: 50, seed: seed + round },
  );
  if (found.failed) {
    process.stdout.write(`${fc.defaultReportMessage(found)}\n`);
    process.exit(1);
  }
  if (round % 2 === 1) process.stderr.write(`${steps} steps\n`);
}
const seconds = (performance.now() - begunMs) / 1000;
process.stdout.write(`${JSON.stringify({ steps, worlds, seed, seconds: Math.round(seconds), broken: 0 })}\n`);
