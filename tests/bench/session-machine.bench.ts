// The session machine explored at length: `npx tsx tests/bench/session-machine.bench.ts [steps] [seed ...]`; 1,000,000 steps a
// seed and four seeds unless told otherwise. Writes session-machine-results.json, or prints the shortest way to a broken
// promise and ends with 1.

import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { availableParallelism, loadavg } from 'node:os';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { explore, happenings } from '../support/session-machine.ts';

const wanted = Number(process.argv[2] ?? 1_000_000);
const asked = process.argv.slice(3).map(Number);
// Rounds count up from the seed: seeds closer than a thousand would explore the same worlds.
const seeds = asked.length > 0 ? asked : [7, 1_000_007, 2_000_007, 20_311_105];

/** One seed: steps that were checked and worlds that were made. Ends the process at the first broken promise. */
async function exploreSeed(seed: number) {
  let steps = 0;
  let worlds = 0;
  const happened = new Map<string, number>();
  const begunMs = performance.now();
  for (let round = 0; steps < wanted; round += 1) {
    const found = await fc.check(
      fc.asyncProperty(fc.commands([...happenings], { maxCommands: 400, size: 'max' }), async (commands) => {
        steps += await explore(commands);
        worlds += 1;
        for (const command of commands) {
          const name = String(command).replace(/\d+/g, 'N');
          happened.set(name, (happened.get(name) ?? 0) + 1);
        }
      }),
      { numRuns: 50, seed: seed + round },
    );
    if (found.failed) {
      process.stdout.write(`${fc.defaultReportMessage(found)}\n`);
      process.exit(1);
    }
    if (round % 20 === 19) process.stderr.write(`seed ${seed}: ${steps} steps\n`);
  }
  const seconds = Math.round((performance.now() - begunMs) / 1_000);
  return { seed, steps, worlds, seconds, broken: 0, happenings: Object.fromEntries([...happened].sort()) };
}

const explored: Awaited<ReturnType<typeof exploreSeed>>[] = [];
for (const seed of seeds) explored.push(await exploreSeed(seed));
const results = {
  date: new Date().toISOString().slice(0, 10),
  commit: execFileSync('git', ['rev-parse', '--short', 'HEAD'], { encoding: 'utf8' }).trim(),
  node: process.version,
  cores: availableParallelism(),
  loadAverage: loadavg().map((load) => Number(load.toFixed(2))),
  steps: explored.reduce((sum, { steps }) => sum + steps, 0),
  broken: 0,
  seeds: explored,
};
if (wanted >= 1_000_000)
  writeFileSync(
    fileURLToPath(new URL('session-machine-results.json', import.meta.url)),
    `${JSON.stringify(results, null, 2)}\n`,
  );
process.stdout.write(`${JSON.stringify(results)}\n`);
