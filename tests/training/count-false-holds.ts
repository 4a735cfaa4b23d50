// Counts holds found in real people who breathe throughout, set by set, live and afterwards, each person by the networks
// that have not met them. Run: npx tsx tests/training/count-false-holds.ts [DATASETS_FOLDER] [verbose]

import { estimateHolds } from '../../src/holds/smoothing.ts';
import { runLive } from '../support/corpus/score.ts';
import { liveWithoutHalf, smoothingWithoutHalf } from './folds/fold-networks.ts';
import { breathingRecordings } from './real-breathing.ts';
import { rowsOf } from './real-rows.ts';

const folder = process.argv[2] ?? new URL('../../../shared/datasets', import.meta.url).pathname;
const verbose = process.argv.includes('verbose');
const bySet = new Map<string, { hours: number; live: number; stands: number; proposed: number }>();
for (const { set, name, part, samples } of breathingRecordings(folder)) {
  if (samples.length === 0) continue;
  const sum = bySet.get(set) ?? { hours: 0, live: 0, stands: 0, proposed: 0 };
  const live = runLive(samples, part === 'unseen' ? undefined : liveWithoutHalf[part]).holds;
  const found = estimateHolds(rowsOf(samples), part === 'unseen' ? undefined : smoothingWithoutHalf[part]);
  const proposed = found.filter((hold) => hold.proposed).length;
  sum.hours += (samples.at(-1)!.atMs - samples[0]!.atMs) / 3_600_000;
  sum.live += live.length;
  sum.stands += found.length - proposed;
  sum.proposed += proposed;
  bySet.set(set, sum);
  if (verbose && live.length + found.length > 0) {
    const spans = found.map(
      (h) =>
        `${Math.round(h.start.atMs / 1_000)}-${Math.round(h.end.atMs / 1_000)}${h.proposed ? '?' : ''} ${h.confidence.toFixed(2)}`,
    );
    console.log(`    ${set} ${name}: live ${live.length}; afterwards ${spans.join(', ')}`);
  }
}
for (const [set, { hours, live, stands, proposed }] of bySet) {
  const per20h = (count: number): string => `${((20 * count) / hours).toFixed(1)} (${count})`;
  console.log(
    `${set.padEnd(18)} ${hours.toFixed(1).padStart(4)} h, per 20 h: live ${per20h(live)}, afterwards ${per20h(stands)}, proposals ${per20h(proposed)}`,
  );
}
