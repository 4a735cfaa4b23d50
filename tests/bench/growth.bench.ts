// `npm run bench growth`: how the hub's cost grows with athletes, pages and hours, as exponents: 1 is in proportion. A hub that
// does nothing costs something too, so exponents below 1 are expected where little is asked of it. Into growth-results.json.

import { writeFileSync } from 'node:fs';
import { cpus, loadavg } from 'node:os';
import type { PeerLoad } from './peers/load.ts';
import { runPeer } from './peers/run-peer.ts';
import { benchPipeline } from './pipeline.bench.ts';

const athleteCounts = [1, 5, 20, 50, 100];
const pageCounts = [1, 10, 40, 80, 120];
const hourCounts = [1, 4, 12, 24];
const measureMs = 8_000;

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

/** Needs about 5 min. */
export async function benchGrowth(): Promise<Record<string, number>> {
  const loadBefore = loadavg()[0];
  const byAthletes: Cost[] = [];
  for (const athleteCount of athleteCounts)
    byAthletes.push(await costOf(athleteCount, { athleteCount, pageCount: 10, waves: false }));
  const byPages: Cost[] = [];
  for (const pageCount of pageCounts)
    byPages.push(await costOf(pageCount, { athleteCount: 20, pageCount, waves: false }));
  const byHours: Point[] = [];
  for (const hours of hourCounts) byHours.push({ count: hours, cost: await processorMsOf(hours) });
  const points = (of: 'processorPercent' | 'bytesPerPagePerSecond', costs: readonly Cost[]): Point[] =>
    costs.map((each) => ({ count: each.count, cost: each[of] }));
  const exponents = {
    processorByAthletes: exponentOf(points('processorPercent', byAthletes)),
    bytesByAthletes: exponentOf(points('bytesPerPagePerSecond', byAthletes)),
    processorByPages: exponentOf(points('processorPercent', byPages)),
    bytesOfOnePageByPages: exponentOf(points('bytesPerPagePerSecond', byPages)),
    processorByHours: exponentOf(byHours),
  };
  const report = {
    date: new Date().toISOString().slice(0, 10),
    node: process.version,
    cores: cpus().length,
    processor: cpus()[0]?.model ?? 'unknown',
    loadBefore,
    loadAfter: loadavg()[0],
    exponents,
    byAthletes,
    byPages,
    pipelineProcessorMsByHours: byHours,
  };
  writeFileSync(
    new URL('growth-results.json', import.meta.url),
    `${JSON.stringify(report, (_key, value) => (typeof value === 'number' ? Number(value.toPrecision(4)) : value), 2)}\n`,
  );
  return exponents;
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
