// `npm run bench growth`: how the hub's cost grows with athletes, pages, hours and recordings, as exponents: 1 is in proportion. A
// hub that does nothing costs something too, so exponents below 1 are expected where little is asked of it. Into
// growth-results.json. BENCH_GROWTH=archive (or load, hours) takes one part; the others stay as they were.

import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { cpus, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { bundlePeers } from './peers/bundle-peers.ts';
import type { PeerLoad } from './peers/load.ts';
import { runPeer } from './peers/run-peer.ts';
import { benchPipeline } from './pipeline.bench.ts';
import { writeLines } from './weeks.bench.ts';

const athleteCounts = [1, 5, 20, 50, 100];
const pageCounts = [1, 10, 40, 80, 120];
const hourCounts = [1, 4, 12, 24];
const recordingCounts = [10, 100, 1_000, 10_000];
const measureMs = 8_000;
const resultsFile = new URL('growth-results.json', import.meta.url);

interface Cost {
  readonly count: number;
  readonly processorPercent: number;
  readonly bytesPerPagePerSecond: number;
}

interface Point {
  readonly count: number;
  readonly cost: number;
}

/** Of cost = a x count ^ exponent, by least squares of the logarithms. */
export function exponentOf(points: readonly Point[]): number {
  const logs = points.map(({ count, cost }) => ({ x: Math.log(count), y: Math.log(cost) }));
  const mean = (of: (log: { x: number; y: number }) => number): number =>
    logs.reduce((sum, log) => sum + of(log), 0) / logs.length;
  const [middleX, middleY] = [mean(({ x }) => x), mean(({ y }) => y)];
  const slope = mean(({ x, y }) => (x - middleX) * (y - middleY));
  return slope / mean(({ x }) => (x - middleX) ** 2);
}

type Part = 'load' | 'hours' | 'archive';

interface Measured {
  readonly date: string;
  readonly loadBefore: number | undefined;
  readonly loadAfter: number | undefined;
  readonly exponents: Readonly<Record<string, number>>;
}

const measures: Record<Part, () => Promise<Pick<Measured, 'exponents'> & object>> = {
  load: measureLoad,
  hours: measureHours,
  archive: measureArchive,
};

/** Needs about 6 min. */
export async function benchGrowth(): Promise<Record<string, number>> {
  const only = process.env['BENCH_GROWTH'];
  const parts = (Object.keys(measures) as Part[]).filter((part) => only === undefined || only === part);
  const before = JSON.parse(readFileSync(resultsFile, 'utf8')) as { parts?: Record<string, Measured> };
  const measured: Record<string, Measured> = {};
  for (const part of parts) {
    const loadBefore = loadavg()[0];
    const figures = await measures[part]();
    const date = new Date().toISOString().slice(0, 10);
    measured[part] = { date, loadBefore, loadAfter: loadavg()[0], ...figures };
  }
  const report = {
    node: process.version,
    cores: cpus().length,
    processor: cpus()[0]?.model ?? 'unknown',
    parts: { ...before.parts, ...measured },
  };
  writeFileSync(
    resultsFile,
    `${JSON.stringify(report, (_key, value) => (typeof value === 'number' ? Number(value.toPrecision(4)) : value), 2)}\n`,
  );
  return Object.assign({}, ...Object.values(measured).map(({ exponents }) => exponents)) as Record<
    string,
    number
  >;
}

async function measureLoad() {
  await bundlePeers();
  const byAthletes: Cost[] = [];
  for (const athleteCount of athleteCounts)
    byAthletes.push(await costOf(athleteCount, { athleteCount, pageCount: 10, waves: false }));
  const byPages: Cost[] = [];
  for (const pageCount of pageCounts)
    byPages.push(await costOf(pageCount, { athleteCount: 20, pageCount, waves: false }));
  const points = (of: 'processorPercent' | 'bytesPerPagePerSecond', costs: readonly Cost[]): Point[] =>
    costs.map((each) => ({ count: each.count, cost: each[of] }));
  const exponents = {
    processorByAthletes: exponentOf(points('processorPercent', byAthletes)),
    bytesByAthletes: exponentOf(points('bytesPerPagePerSecond', byAthletes)),
    processorByPages: exponentOf(points('processorPercent', byPages)),
    bytesOfOnePageByPages: exponentOf(points('bytesPerPagePerSecond', byPages)),
  };
  return { exponents, byAthletes, byPages };
}

async function measureHours() {
  const byHours: Point[] = [];
  for (const hours of hourCounts) byHours.push({ count: hours, cost: await processorMsOf(hours) });
  return { exponents: { processorByHours: exponentOf(byHours) }, pipelineProcessorMsByHours: byHours };
}

/** A line of the list each: recordings with marked holds and no packets, which the list doesn't read. Processor time. */
async function measureArchive() {
  const opening: Point[] = [];
  const listing: Point[] = [];
  for (const count of recordingCounts) {
    process.stderr.write(`${count} recordings\n`);
    const directory = mkdtempSync(join(tmpdir(), 'slackwater-growth-'));
    const written = openSqliteStore({ directory });
    writeLines(written, count);
    written.close();
    const openings: number[] = [];
    const listings: number[] = [];
    for (let round = 0; round < 5; round += 1) {
      let store: ReturnType<typeof openSqliteStore> | undefined;
      openings.push(
        processorMs(() => {
          store = openSqliteStore({ directory });
        }),
      );
      listings.push(
        processorMs(() => {
          if (store?.listSessions().length !== count) throw new Error('recordings are missing');
        }),
      );
      store?.close();
    }
    opening.push({ count, cost: Math.min(...openings) });
    listing.push({ count, cost: Math.min(...listings) });
    rmSync(directory, { recursive: true, force: true });
  }
  const exponents = {
    openingByRecordings: exponentOf(opening),
    listingByRecordings: exponentOf(listing),
    /** Between the two largest, where what a list costs anyhow no longer counts. */
    listingByRecordingsAtTheEnd: exponentOf(listing.slice(-2)),
  };
  return { exponents, openingProcessorMs: opening, listingProcessorMs: listing };
}

function processorMs(work: () => void): number {
  const before = process.cpuUsage();
  work();
  const { user, system } = process.cpuUsage(before);
  return (user + system) / 1_000;
}

async function costOf(count: number, load: PeerLoad): Promise<Cost> {
  process.stderr.write(`${load.athleteCount} athletes, ${load.pageCount} pages\n`);
  const { cpuPercent, bytesPerPagePerSecond } = await runPeer('hub', load, measureMs);
  return { count, processorPercent: cpuPercent, bytesPerPagePerSecond };
}

async function processorMsOf(hours: number): Promise<number> {
  process.stderr.write(`${hours} h through the pipeline\n`);
  const before = process.cpuUsage();
  await benchPipeline(hours);
  const { user, system } = process.cpuUsage(before);
  return (user + system) / 1_000;
}
