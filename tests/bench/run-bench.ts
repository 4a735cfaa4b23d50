// npm run bench: every measurement of speed and memory, one after another, as JSON on standard output and in artefacts/.
// Nothing here passes or fails; DEVELOPERS.md says against what to compare. `--against COMMIT` (and `--rounds N`, six) runs the
// named benches by turns here and there, and gives ratios.

import { execFileSync } from 'node:child_process';
import { mkdirSync, writeFileSync } from 'node:fs';
import { cpus } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';

const root = new URL('../..', import.meta.url).pathname;

type Bench = () => Promise<Record<string, number>>;
const benches: Record<string, () => Promise<Bench>> = {
  pipeline: async () => (await import('./pipeline.bench.ts')).benchPipeline,
  answers: async () => (await import('./answers.bench.ts')).benchAnswers,
  detector: async () => (await import('./detector.bench.ts')).benchDetector,
  recorder: async () => (await import('./recorder.bench.ts')).benchRecorder,
  hub: async () => (await import('./hub.bench.ts')).benchHub,
  alarmLatency: async () => (await import('./alarm-latency.bench.ts')).benchAlarmLatency,
  load: async () => (await import('./load.bench.ts')).benchLoad,
  floods: async () => (await import('./floods.bench.ts')).benchFloods,
  wall: async () => (await import('./wall.bench.ts')).benchWall,
  history: async () => (await import('./history.bench.ts')).benchHistory,
  import: async () => (await import('./import.bench.ts')).benchImport,
  stalls: async () => (await import('./stalls.bench.ts')).benchStalls,
  resume: async () => (await import('./resume.bench.ts')).benchResume,
  crash: async () => (await import('./crash.bench.ts')).benchCrash,
  kills: async () => (await import('./kills.bench.ts')).benchKills,
  page: async () => (await import('./page.bench.ts')).benchPage,
  soak: async () => (await import('./soak.bench.ts')).benchSoak,
  school: async () => (await import('./school/school.bench.ts')).benchSchool,
  'school-partitions': async () =>
    (await import('./school/school-partitions.bench.ts')).benchSchoolPartitions,
  growth: async () => (await import('./growth.bench.ts')).benchGrowth,
};

const { values: options, positionals: asked } = parseArgs({
  allowPositionals: true,
  options: { against: { type: 'string' }, rounds: { type: 'string', default: '6' } },
});
const unknown = asked.filter((name) => benches[name] === undefined);
if (unknown.length > 0) throw new Error(`no bench is called ${unknown.join(', ')}`);
/** Half an hour, as root, with namespaces of its own. */
const onlyWhenAsked = ['school-partitions'];
const names = Object.keys(benches).filter((name) =>
  asked.length === 0 ? !onlyWhenAsked.includes(name) : asked.includes(name),
);
if (options.against !== undefined) {
  // Not loaded for a bench alone: it would be part of what its process costs.
  const { compareAgainst, tableOf } = await import('./against.ts');
  const comparison = await compareAgainst(root, options.against, names, Number(options.rounds));
  mkdirSync(join(root, 'artefacts'), { recursive: true });
  writeFileSync(join(root, 'artefacts', 'bench-against.json'), `${JSON.stringify(comparison, null, 2)}\n`);
  process.stdout.write(`${tableOf(comparison)}\n`);
  process.exit(0);
}
const results: Record<string, Record<string, number>> = {};
for (const name of names) {
  process.stderr.write(`${name} ...\n`);
  const bench = await benches[name]!();
  const cpuBefore = process.cpuUsage();
  const figures = await bench();
  const { user, system } = process.cpuUsage(cpuBefore);
  results[name] = Object.fromEntries(
    Object.entries({ ...figures, processorMs: (user + system) / 1_000 }).map(([key, value]) => [
      key,
      // Of answers every digit counts.
      name === 'answers' ? value : Number(value.toPrecision(4)),
    ]),
  );
}

let commit = 'not a git checkout';
try {
  commit = execFileSync('git', ['rev-parse', '--short', 'HEAD'], { cwd: root, encoding: 'utf8' }).trim();
} catch {
  // A copy without history can be measured too.
}
const report = { commit, node: process.version, cores: cpus().length, results };
mkdirSync(join(root, 'artefacts'), { recursive: true });
writeFileSync(join(root, 'artefacts', 'bench.json'), `${JSON.stringify(report, null, 2)}\n`);
process.stdout.write(`${JSON.stringify(report, null, 2)}\n`);
process.exit(0);
