// The alarm matrix through whole hubs, live and replayed: `npx tsx tests/bench/alarm-matrix-live.bench.ts [--workers=2]
// [--only=WORDS]`. Prints a table and ends with 1 where a page or an output presented no high alarm; a run of all faults
// writes alarm-matrix-live-results.json, after each of them.

import { execFileSync, fork } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { availableParallelism, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type Crossing, realCrossings, simulatedCrossings } from '../support/alarm-corpus/crossings.ts';
import { liveFaults } from '../support/live-alarms/live-faults.ts';
import { type LiveRow, rowsOf, runFault } from '../support/live-alarms/live-matrix.ts';

const flag = (name: string): string | undefined =>
  process.argv.find((word) => word.startsWith(`--${name}=`))?.slice(name.length + 3);

/** 24 simulated and 6 real ones. */
const crossings: readonly Crossing[] = [
  ...simulatedCrossings(Array.from({ length: 36 }, (_, index) => 5_000 + index)).slice(0, 24),
  ...realCrossings(),
];
const faults = liveFaults.filter(({ name }) => name.includes(flag('only') ?? ''));

/** A worker asks for faults until there are none. */
async function work(): Promise<void> {
  const lanIn = mkdtempSync(join(tmpdir(), 'slackwater-matrix-'));
  process.on('message', (index: number) => {
    const fault = faults[index];
    if (fault === undefined) {
      rmSync(lanIn, { recursive: true, force: true });
      process.exit(0);
    }
    void runFault(fault, crossings, lanIn).then((runs) => process.send?.(rowsOf(fault, runs)));
  });
  process.send?.([]);
}

/** `told` hears all rows so far after each fault. */
async function together(workers: number, told: (rows: readonly LiveRow[]) => void): Promise<void> {
  const rows: LiveRow[] = [];
  const place = (row: LiveRow) =>
    faults.findIndex(({ name }) => name === row.fault) * 2 + (row.way === 'live' ? 0 : 1);
  let next = 0;
  const ends = Array.from({ length: workers }, () => {
    const child = fork(fileURLToPath(import.meta.url), [...process.argv.slice(2), '--worker'], {
      execArgv: ['--import', 'tsx'],
    });
    child.on('message', (message) => {
      rows.push(...(message as LiveRow[]));
      rows.sort((one, other) => place(one) - place(other));
      if ((message as LiveRow[]).length > 0) told(rows);
      child.send(next);
      next += 1;
    });
    return new Promise<void>((resolve, reject) =>
      child.once('exit', (code) =>
        code === 0 ? resolve() : reject(new Error(`a worker ended with ${code}`)),
      ),
    );
  });
  await Promise.all(ends);
}

const shown = (seconds: number | undefined): string =>
  seconds === undefined ? '-' : `${seconds.toFixed(1)} s`;
const worstOf = (row: LiveRow, ...who: readonly (keyof LiveRow['worstDelayS'])[]): number | undefined => {
  const all = who.flatMap((one) => row.worstDelayS[one] ?? []);
  return all.length === 0 ? undefined : Math.max(...all);
};

const isWhole = flag('only') === undefined;
const begunMs = performance.now();

/** What of the matrix there is; one that is broken off leaves what it had, and says so. */
function resultsOf(rows: readonly LiveRow[]) {
  const missed = rows.flatMap((row) =>
    row.missed.map((one) => `${row.fault} (${row.way}): ${one.crossing}: ${one.who.join(', ')}`),
  );
  const faultsDone = new Set(rows.map(({ fault }) => fault)).size;
  return {
    simulated: true,
    date: new Date().toISOString().slice(0, 10),
    commit: execFileSync('git', ['rev-parse', '--short', 'HEAD'], { encoding: 'utf8' }).trim(),
    node: process.version,
    cores: availableParallelism(),
    loadAverage: loadavg().map((load) => Number(load.toFixed(2))),
    seconds: Math.round((performance.now() - begunMs) / 1_000),
    isWhole: isWhole && faultsDone === faults.length,
    faults: faultsDone,
    crossingsPerFault: crossings.length,
    crossings: rows.reduce((sum, row) => sum + row.crossings, 0),
    crossingsMissedSomewhere: missed.length,
    packetsLost: rows.reduce((sum, row) => sum + row.packetsLost, 0),
    missed,
    rows,
  };
}

function printTable(rows: readonly LiveRow[]): void {
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
}

if (process.argv.includes('--worker')) await work();
else {
  let last = resultsOf([]);
  await together(Number(flag('workers') ?? 2), (rows) => {
    last = resultsOf(rows);
    process.stderr.write(
      `${last.faults} of ${faults.length}, ${last.seconds} s; missed: ${last.missed.length}\n`,
    );
    if (isWhole)
      writeFileSync(
        fileURLToPath(new URL('alarm-matrix-live-results.json', import.meta.url)),
        `${JSON.stringify(last, null, 2)}\n`,
      );
  });
  printTable(last.rows);
  const { rows: _rows, ...summary } = last;
  console.log(JSON.stringify(summary, null, 2));
  process.exitCode = last.missed.length > 0 ? 1 : 0;
}
