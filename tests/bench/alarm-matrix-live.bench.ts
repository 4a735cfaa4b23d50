// The alarm matrix through whole hubs, live and replayed: `npx tsx tests/bench/alarm-matrix-live.bench.ts [--workers=2]
// [--only=WORDS]`. Prints a table and ends with 1 where a page or an output presented no high alarm; a run of all faults
// writes alarm-matrix-live-results.json.

import { execFileSync, fork } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { availableParallelism, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type Crossing, realCrossings, simulatedCrossings } from '../support/alarm-corpus/crossings.ts';
import { liveFaults } from '../support/live-alarms/live-faults.ts';
import { type LiveRow, rowsOf, runCrossing } from '../support/live-alarms/live-matrix.ts';

const flag = (name: string): string | undefined =>
  process.argv.find((word) => word.startsWith(`--${name}=`))?.slice(name.length + 3);

/** 24 simulated and 6 real ones. */
const crossings: readonly Crossing[] = [
  ...simulatedCrossings(Array.from({ length: 36 }, (_, index) => 5_000 + index)).slice(0, 24),
  ...realCrossings(),
];
const faults = liveFaults.filter(({ name }) => name.includes(flag('only') ?? ''));

async function work(part: number, parts: number): Promise<void> {
  const lanIn = mkdtempSync(join(tmpdir(), 'slackwater-matrix-'));
  for (const [index, fault] of faults.entries()) {
    if (index % parts !== part) continue;
    const runs = new Map<string, Awaited<ReturnType<typeof runCrossing>>>();
    for (const crossing of crossings) runs.set(crossing.name, await runCrossing(fault, crossing, lanIn));
    process.send?.(rowsOf(fault, runs));
  }
  rmSync(lanIn, { recursive: true, force: true });
  process.disconnect?.();
  process.exit(0);
}

async function together(parts: number): Promise<readonly LiveRow[]> {
  const rows: LiveRow[] = [];
  const ends = Array.from({ length: parts }, (_, part) => {
    const child = fork(fileURLToPath(import.meta.url), [...process.argv.slice(2), `--part=${part}`], {
      execArgv: ['--import', 'tsx'],
    });
    child.on('message', (message) => {
      rows.push(...(message as LiveRow[]));
      process.stderr.write(`${rows.length} rows\n`);
    });
    return new Promise<void>((resolve, reject) =>
      child.once('exit', (code) =>
        code === 0 ? resolve() : reject(new Error(`a worker ended with ${code}`)),
      ),
    );
  });
  await Promise.all(ends);
  const place = (row: LiveRow) =>
    faults.findIndex(({ name }) => name === row.fault) * 2 + (row.way === 'live' ? 0 : 1);
  return rows.sort((one, other) => place(one) - place(other));
}

const shown = (seconds: number | undefined): string =>
  seconds === undefined ? '-' : `${seconds.toFixed(1)} s`;
const worstOf = (row: LiveRow, ...who: readonly (keyof LiveRow['worstDelayS'])[]): number | undefined => {
  const all = who.flatMap((one) => row.worstDelayS[one] ?? []);
  return all.length === 0 ? undefined : Math.max(...all);
};

const parts = Number(flag('workers') ?? 2);
if (flag('part') !== undefined) await work(Number(flag('part')), parts);
else {
  const begunMs = performance.now();
  const rows = await together(parts);
  const crossed = rows.reduce((sum, row) => sum + row.crossings, 0);
  const missed = rows.flatMap((row) =>
    row.missed.map((one) => `${row.fault} (${row.way}): ${one.crossing}: ${one.who.join(', ')}`),
  );
  console.log(
    '| fault | way | crossings | missed somewhere | worst: hub | pages | loudspeaker | command | webhook |',
  );
  console.log('| --- | --- | --- | --- | --- | --- | --- | --- | --- |');
  for (const row of rows)
    console.log(
      `| ${[
        row.fault,
        row.way,
        row.crossings,
        row.missed.length,
        shown(worstOf(row, 'hub')),
        shown(worstOf(row, 'coach draws', 'coach sounds', 'phone draws', 'phone sounds')),
        shown(worstOf(row, 'loudspeaker')),
        shown(worstOf(row, 'command')),
        shown(worstOf(row, 'webhook')),
      ].join(' | ')} |`,
    );
  for (const one of missed) console.error(one);
  const results = {
    date: new Date().toISOString().slice(0, 10),
    commit: execFileSync('git', ['rev-parse', '--short', 'HEAD'], { encoding: 'utf8' }).trim(),
    node: process.version,
    cores: availableParallelism(),
    loadAverage: loadavg().map((load) => Number(load.toFixed(2))),
    seconds: Math.round((performance.now() - begunMs) / 1_000),
    faults: faults.length,
    crossingsPerFault: crossings.length,
    crossings: crossed,
    crossingsMissedSomewhere: missed.length,
    packetsLost: rows.reduce((sum, row) => sum + row.packetsLost, 0),
    rows,
  };
  if (flag('only') === undefined)
    writeFileSync(
      fileURLToPath(new URL('alarm-matrix-live-results.json', import.meta.url)),
      `${JSON.stringify(results, null, 2)}\n`,
    );
  const { rows: _rows, ...summary } = results;
  console.log(JSON.stringify(summary));
  process.exitCode = missed.length > 0 ? 1 : 0;
}
