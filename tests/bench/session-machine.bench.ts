// The session machine explored at length: `npx tsx tests/bench/session-machine.bench.ts [steps] [seed ...]`; four seeds and
// 1,000,000 steps of each unless told otherwise, two at a time. Prints the shortest way to a broken promise and ends with 1
// where there is one. A seed that is done is written into session-machine-results.json beside those of the same day's runs.

import { execFileSync, fork } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { availableParallelism, loadavg } from 'node:os';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { explore, happenings } from '../support/session-machine.ts';

const words = process.argv.slice(2);
const isWorker = words[0] === 'worker';
const [wanted = 1_000_000, ...asked] = words.filter((word) => word !== 'worker').map(Number);
// Rounds count up from the seed: seeds closer than a thousand would explore the same worlds.
const seeds = asked.length > 0 ? asked : [7, 1_000_007, 2_000_007, 20_311_105];
const atATime = Number(process.env['AT_A_TIME'] ?? 2);
const resultsFile = fileURLToPath(new URL('session-machine-results.json', import.meta.url));

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

type Explored = Awaited<ReturnType<typeof exploreSeed>>;

/** One seed in a process of its own. */
function exploreApart(seed: number): Promise<Explored> {
  return new Promise((resolve, reject) => {
    const child = fork(fileURLToPath(import.meta.url), ['worker', String(wanted), String(seed)], {
      execArgv: ['--import', 'tsx'],
    });
    child.once('message', (message) => resolve(message as Explored));
    child.once('exit', (code) => reject(new Error(`seed ${seed} ended with ${code}`)));
  });
}

if (isWorker) {
  process.send?.(await exploreSeed(seeds[0] ?? 0));
  process.disconnect();
} else {
  const commit = execFileSync('git', ['rev-parse', '--short', 'HEAD'], { encoding: 'utf8' }).trim();
  const date = new Date().toISOString().slice(0, 10);
  const waiting = [...seeds];
  const lanes = Array.from({ length: atATime }, async () => {
    for (let seed = waiting.shift(); seed !== undefined; seed = waiting.shift()) {
      const one = await exploreApart(seed);
      const load = Number((loadavg()[0] ?? 0).toFixed(2));
      write(date, { ...one, commit, load });
      process.stdout.write(`${JSON.stringify({ seed, steps: one.steps, worlds: one.worlds, broken: 0 })}\n`);
    }
  });
  await Promise.all(lanes).catch(() => process.exit(1));
}

type Written = Explored & { readonly commit: string; readonly load: number };

function write(date: string, one: Written): void {
  let before: Written[] = [];
  try {
    const results = JSON.parse(readFileSync(resultsFile, 'utf8')) as { date: string; seeds: Written[] };
    if (results.date === date) before = results.seeds.filter(({ seed }) => seed !== one.seed);
  } catch {
    // The first.
  }
  const all = [...before, one].sort((a, b) => a.seed - b.seed);
  const results = {
    date,
    node: process.version,
    cores: availableParallelism(),
    steps: all.reduce((sum, { steps }) => sum + steps, 0),
    broken: 0,
    seeds: all,
  };
  writeFileSync(resultsFile, `${JSON.stringify(results, null, 2)}\n`);
}
