// `npm run bench:peers`: the hub beside what else carries messages on this machine, in turns, round by round. Installs nothing:
// what is not there is left out, and said. A broker has no pipeline, writes nothing to disk and asks nobody for rights; it is
// the floor of what passing a message on costs. The figures go into peers-results.json with the machine and the day.
// Options: --rounds N (5), --seconds N (8 a round), --only LOAD,LOAD (`storage` is one), --dry (write no file).

import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { cpus, loadavg } from 'node:os';
import { parseArgs } from 'node:util';
import { quantile } from './hub.bench.ts';
import { bundlePeers } from './peers/bundle-peers.ts';
import type { PeerLoad } from './peers/load.ts';
import type { OwnTime } from './peers/own-time.ts';
import { type PeerName, type PeerRound, pathOf, peerNames, runPeer } from './peers/run-peer.ts';
import { compareStorage, printStorage } from './peers/storage.ts';

const loads: Readonly<Record<string, PeerLoad>> = {
  sensors20: { athleteCount: 20, pageCount: 50, waves: false },
  waves20: { athleteCount: 20, pageCount: 20, waves: true },
  sensors100: { athleteCount: 100, pageCount: 20, waves: false },
  ownTime20: { athleteCount: 20, pageCount: 50, waves: false, timed: true },
};
const storageName = 'storage';
const storageRounds = 12;
const today = (): string => new Date().toISOString().slice(0, 10);
const resultsFile = new URL('peers-results.json', import.meta.url);

interface Figures {
  readonly newestP50Ms: number;
  readonly newestP99Ms: number;
  readonly alarmP50Ms: number | null;
  readonly alarmP99Ms: number | null;
  readonly bytesPerPagePerSecond: number;
  readonly cpuPercent: number;
  /** Of hub and `ws` where they timed their tasks; less the time in which others had the cores: `own`. */
  readonly ownTime?: Readonly<Record<string, number | null>>;
}

interface Measured {
  readonly date: string;
  readonly commit: string;
  readonly rounds: number;
  readonly secondsARound: number;
  /** Load average of the machine. */
  readonly loadBefore: number | undefined;
  readonly loadAfter: number | undefined;
  readonly peers: Partial<Record<PeerName, Figures>>;
}

const { values: options } = parseArgs({
  options: {
    rounds: { type: 'string', default: '5' },
    seconds: { type: 'string', default: '8' },
    only: { type: 'string' },
    dry: { type: 'boolean', default: false },
  },
});
const roundCount = Number(options.rounds);
const measureMs = Number(options.seconds) * 1_000;

const present = peerNames.filter((name) => {
  if (name === 'hub' || name === 'ws' || pathOf(name) !== undefined) return true;
  console.error(`*** ${name} is not on this machine: LEFT OUT. ***`);
  return false;
});
await bundlePeers();
const asked = options.only?.split(',') ?? [...Object.keys(loads), storageName];
const commit = execFileSync('git', ['rev-parse', '--short', 'HEAD'], { encoding: 'utf8' }).trim();
const results: Record<string, Measured> = {};
let storage: object | undefined;
for (const loadName of asked) {
  if (loadName === storageName) {
    const loadBefore = loadavg()[0];
    const compared = await compareStorage(storageRounds);
    printStorage(compared);
    storage = {
      date: today(),
      commit,
      rounds: storageRounds,
      loadBefore,
      loadAfter: loadavg()[0],
      ...compared,
    };
    continue;
  }
  const load = loads[loadName];
  if (load === undefined) throw new Error(`no load is called ${loadName}`);
  const loadBefore = loadavg()[0];
  const rounds = new Map<PeerName, PeerRound[]>(present.map((name) => [name, []]));
  for (let round = 0; round < roundCount; round += 1)
    for (const name of round % 2 === 0 ? present : present.toReversed()) {
      process.stderr.write(`${loadName}, round ${round + 1} of ${roundCount}: ${name}\n`);
      rounds.get(name)?.push(await runPeer(name, load, measureMs));
    }
  const peers: Measured['peers'] = Object.fromEntries(
    present.map((name) => [name, figuresOf(rounds.get(name) ?? [])]),
  );
  results[loadName] = {
    date: today(),
    commit,
    rounds: roundCount,
    secondsARound: measureMs / 1_000,
    loadBefore,
    loadAfter: loadavg()[0],
    peers,
  };
  printTable(loadName, load, peers);
}
if (!options.dry) write();
process.exit(0);

function ownFiguresOf(rounds: readonly PeerRound[]): Record<string, number | null> | undefined {
  const own = rounds.flatMap(({ ownTime }) => ownTime ?? []);
  if (own.length === 0) return undefined;
  const at = (of: (one: OwnTime) => readonly number[], share: number): number | null => {
    const values = own.flatMap(of);
    return values.length === 0 ? null : Number(quantile(values, share).toPrecision(3));
  };
  return {
    tasks: own.reduce((sum, { tasksMs }) => sum + tasksMs.length, 0),
    taskP99Ms: at(({ tasksMs }) => tasksMs, 0.99),
    taskMaxMs: at(({ tasksMs }) => tasksMs, 1),
    ownTaskP99Ms: at(({ ownTasksMs }) => ownTasksMs, 0.99),
    ownTaskP999Ms: at(({ ownTasksMs }) => ownTasksMs, 0.999),
    ownTaskMaxMs: at(({ ownTasksMs }) => ownTasksMs, 1),
    alarms: own.reduce((sum, { alarmsMs }) => sum + alarmsMs.length, 0),
    alarmToSocketsP50Ms: at(({ alarmsMs }) => alarmsMs, 0.5),
    alarmToSocketsP99Ms: at(({ alarmsMs }) => alarmsMs, 0.99),
    ownAlarmToSocketsP50Ms: at(({ ownAlarmsMs }) => ownAlarmsMs, 0.5),
    ownAlarmToSocketsP99Ms: at(({ ownAlarmsMs }) => ownAlarmsMs, 0.99),
    loopDelayP99Ms: at(({ loopP99Ms }) => [loopP99Ms], 0.5),
    loopDelayMaxMs: at(({ loopMaxMs }) => [loopMaxMs], 1),
  };
}

/** Delays of all rounds together; bytes and processor time by the median of the rounds. */
function figuresOf(rounds: readonly PeerRound[]): Figures {
  const delays = rounds.flatMap(({ delaysMs }) => delaysMs);
  const alarms = rounds.flatMap(({ alarmDelaysMs }) => alarmDelaysMs);
  const rounded = (value: number): number => Number(value.toPrecision(3));
  const ofAlarms = (share: number): number | null =>
    alarms.length === 0 ? null : rounded(quantile(alarms, share));
  const ownTime = ownFiguresOf(rounds);
  return {
    ...(ownTime !== undefined && { ownTime }),
    newestP50Ms: rounded(quantile(delays, 0.5)),
    newestP99Ms: rounded(quantile(delays, 0.99)),
    alarmP50Ms: ofAlarms(0.5),
    alarmP99Ms: ofAlarms(0.99),
    bytesPerPagePerSecond: rounded(
      quantile(
        rounds.map((round) => round.bytesPerPagePerSecond),
        0.5,
      ),
    ),
    cpuPercent: rounded(
      quantile(
        rounds.map((round) => round.cpuPercent),
        0.5,
      ),
    ),
  };
}

function printTable(loadName: string, load: PeerLoad, figures: Partial<Record<PeerName, Figures>>): void {
  const { athleteCount, pageCount, waves } = load;
  const beside = figures.mosquitto ?? figures.ws;
  const besideName = figures.mosquitto === undefined ? 'ws' : 'mosquitto';
  const of = (value: number, other: number | undefined): string =>
    other === undefined ? '' : ` (x${(value / other).toFixed(1)})`;
  console.log(
    `\n${loadName}: ${athleteCount} athletes${waves ? ' with waves of 100 Hz' : ''}, ${pageCount} pages; in brackets: by ${besideName}'s`,
  );
  console.log('peer         newest p50 ms   p99 ms          alarm p50/p99 ms  bytes/page/s       CPU %');
  for (const [name, each] of Object.entries(figures)) {
    const { newestP50Ms, newestP99Ms, alarmP50Ms, alarmP99Ms, bytesPerPagePerSecond, cpuPercent } = each;
    console.log(
      [
        name.padEnd(12),
        `${newestP50Ms}${of(newestP50Ms, beside?.newestP50Ms)}`.padEnd(15),
        `${newestP99Ms}${of(newestP99Ms, beside?.newestP99Ms)}`.padEnd(15),
        `${alarmP50Ms ?? '-'} / ${alarmP99Ms ?? '-'}`.padEnd(17),
        `${bytesPerPagePerSecond}${of(bytesPerPagePerSecond, beside?.bytesPerPagePerSecond)}`.padEnd(18),
        `${cpuPercent}${of(cpuPercent, beside?.cpuPercent)}`,
      ].join(' '),
    );
    if (each.ownTime !== undefined) console.log(`  ${JSON.stringify(each.ownTime)}`);
  }
}

function write(): void {
  let before: { results?: object; storage?: object } = {};
  try {
    before = JSON.parse(readFileSync(resultsFile, 'utf8')) as { results: object; storage?: object };
  } catch {
    // The first time.
  }
  const report = {
    node: process.version,
    cores: cpus().length,
    processor: cpus()[0]?.model ?? 'unknown',
    absent: peerNames.filter((name) => !present.includes(name)),
    results: { ...before.results, ...results },
    storage: storage ?? before.storage,
  };
  writeFileSync(resultsFile, `${JSON.stringify(report, null, 2)}\n`);
}
