// Three hubs and a school, each part on a host of its own (network namespaces), while cables are pulled and every part is
// killed, hung and restarted in turn; three twins of the hubs without a school go through the same. At the end a program that
// is not ours (tests/foreign/read-school.py) compares both sides. Written to school-partitions-results.json. SIMULATED.
//
//   npm run bench school-partitions                       30 minutes, as root, with iproute2
//   BENCH_PARTITION_MINUTES=5 npm run bench school-partitions
//   BENCH_PARTITION_SEED=2 ..., BENCH_PARTITION_KEEP=1 leaves the folder

import { execFileSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { cpus, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { createRandom } from '../../support/corpus/seeded-random.ts';
import { quantile } from '../hub.bench.ts';
import { faultsOfRound } from './faults.ts';
import { Network } from './namespaces.ts';
import { hubPart, makeCertificates, natsPart, type Part, postgresPart, schoolPart } from './parts.ts';
import { bundlePrograms, mainCommand } from './programs.ts';

const root = new URL('../../..', import.meta.url).pathname;
const results = new URL('./school-partitions-results.json', import.meta.url).pathname;
const setting = (name: string, usual: number): number =>
  Number(process.env[`BENCH_PARTITION_${name}`] ?? usual);

const hubNames = ['quay', 'basin', 'cove'] as const;
const athletes = 8;
/** Short, so that many sessions begin and end while something is away. */
const sessionMs = 150_000;
/** Between two faults all is well for so long. */
const calmMs = 4_000;

/** From the packet that made an alarm to a page of the hub, milliseconds. */
function delaysIn(witness: string): number[] {
  const made = new Map<string, number>();
  const delays: number[] = [];
  for (const line of readFileSync(witness, 'utf8').split('\n')) {
    // A line that a kill cut off.
    if (!line.endsWith('}')) continue;
    const word = JSON.parse(line) as { made?: string; heard?: string; atMs: number };
    if (word.made !== undefined) made.set(word.made, word.atMs);
    if (word.heard !== undefined) made.set(`heard ${word.heard}`, word.atMs);
  }
  for (const [alarm, atMs] of made) {
    const heardAtMs = made.get(`heard ${alarm}`);
    if (heardAtMs !== undefined) delays.push(heardAtMs - atMs);
  }
  return delays;
}

/** 90 % of drawings with replacement give a ratio of the 99th percentiles between these. */
function ratioInterval(
  ours: readonly number[],
  others: readonly number[],
  random: () => number,
): [number, number] {
  const draw = (from: readonly number[]): number =>
    quantile(
      Array.from(from, () => from[Math.floor(random() * from.length)]!),
      0.99,
    );
  const ratios = Array.from({ length: 400 }, () => draw(ours) / draw(others));
  return [quantile(ratios, 0.05), quantile(ratios, 0.95)];
}

interface BothSides {
  readonly hubs: Readonly<Record<string, Readonly<Record<string, number | string>>>>;
  readonly differences: readonly unknown[];
  readonly refused: readonly unknown[];
}

export async function benchSchoolPartitions(): Promise<Record<string, number>> {
  const seed = setting('SEED', 1);
  const random = createRandom(seed).next;
  const minutes = setting('MINUTES', 30);
  const folder = mkdtempSync(join(tmpdir(), 'slackwater-partitions-'));
  execFileSync('chmod', ['755', folder]);
  const outdir = join(root, 'dist', `partitions-${process.pid}`);
  const network = new Network(`sw${process.pid % 10_000}`);
  const parts: Part[] = [];
  let failed = true;
  try {
    const programs = await bundlePrograms(outdir);
    for (const host of ['nats', 'postgres', 'school', ...hubNames, ...hubNames.map((name) => `${name}-twin`)])
      network.add(host);
    const certificates = join(folder, 'certificates');
    mkdirSync(certificates);
    makeCertificates(certificates, {
      nats: network.addressOf('nats'),
      postgres: network.addressOf('postgres'),
    });
    const place = { network, folder, certificates };
    const nats = natsPart(place, hubNames);
    const postgres = postgresPart(place);
    const school = schoolPart(place, mainCommand(programs));
    const hubs = hubNames.map((name) => ({
      hub: hubPart(place, name, { program: programs.hub, athletes, sessionMs, isSending: true }),
      twin: hubPart(place, `${name}-twin`, { program: programs.hub, athletes, sessionMs, isSending: false }),
    }));
    parts.push(nats, postgres, school, ...hubs.flatMap(({ hub, twin }) => [hub, twin]));
    for (const part of parts) await part.start();

    const loadBefore = loadavg()[0] ?? 0;
    const endsAtMs = performance.now() + minutes * 60_000;
    const happened: Record<string, number> = {};
    for (let round = 0; performance.now() < endsAtMs; round++)
      for (const fault of faultsOfRound({ network, nats, postgres, school, hubs, random }, round)) {
        if (performance.now() > endsAtMs) break;
        await pause(calmMs);
        process.stderr.write(`${new Date().toISOString().slice(11, 19)} ${fault.name}\n`);
        await fault.happen();
        happened[fault.name] = (happened[fault.name] ?? 0) + 1;
      }

    for (const { hub, twin } of hubs) for (const part of [hub, twin]) part.signal('SIGUSR2');
    const sending = hubs.map(({ hub }) => hub);
    const caughtUpS = await untilWhole(network, postgres.psql, sending);
    // A hub locks its database while it runs.
    for (const hub of sending) await hub.end('SIGTERM');
    const sides = readBothSides(network, postgres.psql, sending);
    const ours = hubs.flatMap(({ hub }) => delaysIn(hub.witness));
    const others = hubs.flatMap(({ twin }) => delaysIn(twin.witness));
    const [ratioLeast, ratioMost] = ratioInterval(ours, others, random);
    const sum = (name: string): number =>
      Object.values(sides.hubs).reduce((total, hub) => total + Number(hub[name]), 0);
    const figures = {
      minutes,
      faults: Object.values(happened).reduce((total, count) => total + count, 0),
      kills: parts.reduce((total, part) => total + part.startCount - 1, 0),
      endedByThemselves: parts.reduce((total, part) => total + part.unaskedEnds, 0),
      sessions: sum('sessions'),
      packets: sum('packets'),
      packetsInArchive: sum('packetsInArchive'),
      gaps: sum('gaps'),
      doubles: sum('doubles'),
      holds: sum('holds'),
      alarms: sum('alarms'),
      sessionsThatDiffer: sides.differences.length,
      refused: sides.refused.length,
      caughtUpAfterS: caughtUpS,
      alarmsMeasured: ours.length,
      alarmsMeasuredOfTwins: others.length,
      alarmP50Ms: quantile(ours, 0.5),
      alarmP99Ms: quantile(ours, 0.99),
      twinAlarmP50Ms: quantile(others, 0.5),
      twinAlarmP99Ms: quantile(others, 0.99),
      p99Ratio: quantile(ours, 0.99) / quantile(others, 0.99),
      p99RatioLeast: ratioLeast,
      p99RatioMost: ratioMost,
      loadBefore,
      loadAfter: loadavg()[0] ?? 0,
    };
    const machine = {
      date: new Date().toISOString(),
      node: process.version,
      cores: cpus().length,
      cpu: cpus()[0]?.model,
    };
    writeFileSync(
      results,
      `${JSON.stringify({ machine, seed, athletesPerHub: athletes, figures, happened, hubs: sides.hubs, differences: sides.differences, refused: sides.refused }, null, 2)}\n`,
    );
    failed = sides.differences.length > 0 || figures.endedByThemselves > 0;
    return figures;
  } finally {
    for (const part of parts) {
      part.signal('SIGCONT');
      await part.end('SIGKILL');
    }
    // A database that was killed leaves its children for a moment.
    await pause(1_000);
    network.remove();
    rmSync(outdir, { recursive: true, force: true });
    if (failed || setting('KEEP', 0) === 1) process.stderr.write(`left for a look: ${folder}\n`);
    else rmSync(folder, { recursive: true, force: true });
  }
}

type SentHub = Part & { readonly dataFolder: string; readonly witness: string };

/** Seconds until the archive has every session of the hubs, whole as it was told; the comparison itself comes after. */
async function untilWhole(
  network: Network,
  psql: readonly string[],
  hubs: readonly SentHub[],
): Promise<number> {
  const beganAtMs = performance.now();
  const isWhole = (hub: SentHub): boolean => {
    if (!existsSync(`${hub.witness}.sessions`)) return false;
    const own = JSON.parse(readFileSync(`${hub.witness}.sessions`, 'utf8')) as readonly string[];
    const statement = `SELECT session_id FROM sessions JOIN coverage USING (hub_id, session_id, generation)
      WHERE hub_id = '${hub.name}' AND status <> 'recording' AND covered = packet_count`;
    const kept = new Set(network.run('postgres', [...psql, '-X', '-A', '-t', '-c', statement]).split('\n'));
    return own.every((sessionId) => kept.has(sessionId));
  };
  while (performance.now() - beganAtMs < 180_000 && !hubs.every(isWhole)) await pause(1_000);
  return (performance.now() - beganAtMs) / 1_000;
}

function readBothSides(network: Network, psql: readonly string[], hubs: readonly SentHub[]): BothSides {
  const reader = join(root, 'tests', 'foreign', 'read-school.py');
  return JSON.parse(
    network.run('postgres', [
      '/usr/bin/python3',
      reader,
      psql.join(' '),
      ...hubs.map((hub) => `${hub.name}=${hub.dataFolder}`),
    ]),
  ) as BothSides;
}

if (process.argv[1] === new URL(import.meta.url).pathname) {
  console.log(JSON.stringify(await benchSchoolPartitions(), null, 2));
  process.exit(0);
}
