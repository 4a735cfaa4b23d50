// A fault at every write of a short recording: how each ended, by the place. Written to crash-results.json.

import { writeFileSync } from 'node:fs';
import { bundleChild } from '../hub/recorder-killing.ts';
import { canFaultDisk } from '../support/disk-fault.ts';
import {
  type FaultOutcome,
  faultActs,
  faultAt,
  sampled,
  writePoints,
} from '../support/faulted-recordings.ts';

const results = new URL('./crash-results.json', import.meta.url).pathname;
/** BENCH_CRASH_EACH=4 takes four points a place instead of all, where time is short. */
const each = Number(process.env['BENCH_CRASH_EACH'] ?? Number.POSITIVE_INFINITY);

export async function benchCrash(): Promise<Record<string, number>> {
  if (!canFaultDisk) throw new Error('needs Linux and gcc');
  const child = await bundleChild();
  const all = await writePoints(child);
  const points = sampled(all, each);
  const counts: Record<FaultOutcome['outcome'], number> = { whole: 0, never: 0, lost: 0, refused: 0 };
  const bySite: Record<string, Record<string, number>> = {};
  const bad: string[] = [];
  const waiting = points.flatMap((point) => faultActs.map((act) => ({ ...point, act })));
  const runCount = waiting.length;
  const lane = async (): Promise<void> => {
    for (let next = waiting.pop(); next !== undefined; next = waiting.pop()) {
      const { outcome, detail } = await faultAt(child, next.number, next.act);
      counts[outcome] += 1;
      const site = bySite[next.site] ?? {};
      bySite[next.site] = site;
      const key = `${next.act}: ${outcome}`;
      site[key] = (site[key] ?? 0) + 1;
      if (outcome === 'lost' || outcome === 'refused')
        bad.push(`${next.act} at ${next.number} (${next.site}): ${detail}`);
    }
  };
  await Promise.all([lane(), lane()]);
  const report = { writeCount: all.length, pointCount: points.length, runCount, counts, bad, bySite };
  writeFileSync(results, `${JSON.stringify(report, null, 2)}\n`);
  return { writeCount: all.length, runCount, ...counts };
}
