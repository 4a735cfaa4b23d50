// A course under load: 16 athletes and 50 pages on loopback. Says whether any page missed an alarm, and how late they came.
// `npm run bench load` runs it for a minute; `npm run bench load -- --minutes=10` for ten.

import { measureHub } from './hub.bench.ts';

const minutesFlag = process.argv.find((word) => word.startsWith('--minutes='))?.slice('--minutes='.length);

/** Figures as in hub.bench.ts; `alarmMessagesMissed` above 0 is a fault. */
export async function benchLoad(): Promise<Record<string, number>> {
  const minutes = Math.min(120, Math.max(0.1, Number(minutesFlag ?? 1) || 1));
  const figures = await measureHub({ athleteCount: 16, pageCount: 50, runMs: minutes * 60_000 });
  return { minutes, ...figures };
}
