// npm test: style, types, build, then every kind of test; counts them all and ends with "N passed, N failed".
// A stage that fails prints the command that shows or mends it. Needs Chromium for the browser tests.

import { spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, rmSync } from 'node:fs';
import { setPriority } from 'node:os';
import { join } from 'node:path';
import { leftOutHere } from './needed-programs.ts';
import { secondTriesPath } from './second-tries.ts';

const root = new URL('../..', import.meta.url).pathname;
const bin = (name: string) => join(root, 'node_modules', '.bin', name);
let passed = 0;
let failed = 0;
let skipped = 0;

function runStage(name: string, command: string, args: readonly string[], mend: string): void {
  const startedMs = performance.now();
  const done = spawnSync(command, args, { cwd: root, stdio: 'inherit', env: { ...process.env, TZ: 'UTC' } });
  const seconds = ((performance.now() - startedMs) / 1000).toFixed(1);
  if (done.status === 0) {
    passed += 1;
    console.log(`ok    ${name} (${seconds} s)`);
  } else {
    failed += 1;
    console.log(`FAIL  ${name} (${seconds} s). To see or mend it: ${mend}`);
  }
}

interface VitestReport {
  numPassedTests: number;
  numFailedTests: number;
  numPendingTests: number;
  numFailedTestSuites: number;
}

/** Half the share of the processor that the others get (sched(7)). Our choice: with less, tests that wait for half a minute fail on
 * a machine with other work. */
const standingBackBy = 3;

/** The browser's tests wait for a page that other work on the machine keeps waiting. One try more, told loudly: a test that needed it
 * has shown a fault to look for, and counts as passed. */
const triedAgain = ['--retry=1', '--reporter=tests/tools/second-tries.ts'];

interface RunOptions {
  readonly options?: readonly string[];
  /** What it prints is kept until it is over. */
  readonly later?: boolean;
  readonly standsBack?: boolean;
}

/** Runs a project's tests. Answers its end, to be counted. */
function runTests(
  project: string,
  mend: string,
  { options = [], later = false, standsBack = false }: RunOptions = {},
): Promise<void> {
  const report = join(root, 'artefacts', `vitest-${project}.json`);
  rmSync(report, { force: true });
  const running = spawn(
    bin('vitest'),
    [
      'run',
      '--config',
      'tests/vitest.config.ts',
      '--project',
      project,
      '--reporter=default',
      '--reporter=json',
      `--outputFile.json=${report}`,
      ...options,
    ],
    {
      cwd: root,
      stdio: later ? ['ignore', 'pipe', 'pipe'] : 'inherit',
      env: { ...process.env, TZ: 'UTC' },
    },
  );
  // Its workers and their browsers inherit it.
  if (standsBack && running.pid !== undefined) setPriority(running.pid, standingBackBy);
  const printed: Buffer[] = [];
  for (const stream of [running.stdout, running.stderr]) stream?.on('data', (text) => printed.push(text));
  return new Promise((resolve) => {
    running.on('error', (error) => printed.push(Buffer.from(`${error.message}\n`)));
    running.on('close', (status) => {
      process.stdout.write(Buffer.concat(printed));
      count(project, report, status, mend);
      resolve();
    });
  });
}

function count(project: string, report: string, status: number | null, mend: string): void {
  if (!existsSync(report)) {
    failed += 1;
    console.log(`FAIL  ${project} tests did not run. To see why: ${mend}`);
    return;
  }
  const counts = JSON.parse(readFileSync(report, 'utf8')) as VitestReport;
  passed += counts.numPassedTests;
  failed += counts.numFailedTests;
  skipped += counts.numPendingTests;
  // A file that fails to load has no failed test of its own, and a project without tests has shown nothing.
  if (status !== 0 && counts.numFailedTests === 0) failed += 1;
  if (counts.numPassedTests + counts.numFailedTests === 0) failed += 1;
  if (status !== 0) console.log(`FAIL  ${project} tests. To run them alone: ${mend}`);
}

mkdirSync(join(root, 'artefacts'), { recursive: true });
runStage('style', bin('biome'), ['check', '--error-on-warnings', '.'], 'npm run format');
runStage('types', bin('tsc'), ['-b'], 'npm run typecheck');
runStage('build', 'npm', ['run', '--silent', 'build'], 'npm run build');
// The Bluetooth tests wait on real time and hardly compute: the others run beside them and stand back for them. Unit and browser tests
// compute, and side by side on two cores they only keep one another waiting: what asks for five seconds of the machine failed then.
const leftOut = leftOutHere();
const bluetooth = leftOut.every(({ files }) => !files.includes('tests/bluetooth/**'))
  ? runTests('bluetooth', 'npm run test:bluetooth', { later: true })
  : undefined;
// Fails below the floor of the core's coverage too (tests/vitest.config.ts). Only the core has one; working out the shares of
// the other rooms takes longer than many a file of tests.
await runTests('unit', 'npm run test:unit -- --coverage', {
  options: ['--coverage', '--coverage.include=src/**'],
  standsBack: true,
});
if (existsSync('/usr/bin/chromium') || process.env['CHROMIUM_PATH'] !== undefined) {
  rmSync(secondTriesPath, { force: true });
  await runTests('browser', 'npm run test:browser', { standsBack: true, options: triedAgain });
} else {
  failed += 1;
  console.log(
    'FAIL  browser tests need Chromium: install the package "chromium", or set CHROMIUM_PATH to an installed one.',
  );
}
await bluetooth;
for (const { what, packages } of leftOut)
  console.log(`SKIPPED  tests of ${what}: they need the Debian packages ${packages}.`);
if (existsSync(secondTriesPath))
  for (const name of JSON.parse(readFileSync(secondTriesPath, 'utf8')) as readonly string[])
    console.log(
      `PASSED ONLY WHEN TRIED AGAIN  ${name}. It found a fault, of the page or of its own waiting: look for it.`,
    );

console.log(
  skipped > 0
    ? `${passed} passed, ${failed} failed, ${skipped} skipped`
    : `${passed} passed, ${failed} failed`,
);
process.exitCode = failed === 0 ? 0 : 1;
