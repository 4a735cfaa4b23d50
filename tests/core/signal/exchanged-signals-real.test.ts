// Two people's sensors crossed, on real recordings: 26 people with an electrocardiogram and an oximeter, each pair of them
// once as worn and once crossed. The recordings are no part of the repository: set SLACKWATER_DATASETS to their folder.

import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { createExchangedSignals } from '../../../src/signal/exchanged-signals.ts';

const datasets =
  process.env['SLACKWATER_DATASETS'] ?? new URL('../../../../shared/datasets', import.meta.url).pathname;
const folder = join(datasets, 'ordinary-breathing', 'bidmc');
const isThere = existsSync(folder);
if (!isThere) console.warn(`SKIPPED: no recordings of real people in ${folder}`);

interface Person {
  readonly strap: Float64Array;
  readonly oximeter: Float64Array;
  readonly medianBpm: number;
}
const seconds = 480;

function personOf(file: string): Person {
  const strap = new Float64Array(seconds).fill(Number.NaN);
  const oximeter = new Float64Array(seconds).fill(Number.NaN);
  for (const line of readFileSync(join(folder, file), 'utf8').split('\n')) {
    const [time, channel, value] = line.split(',');
    const second = Math.floor(Number(time));
    if (!(second >= 0 && second < seconds)) continue;
    if (channel === 'heart_rate_bpm') strap[second] = Number(value);
    else if (channel === 'pulse_rate_bpm') oximeter[second] = Number(value);
  }
  const sorted = strap.filter((bpm) => !Number.isNaN(bpm)).sort();
  return { strap, oximeter, medianBpm: sorted[Math.floor(sorted.length / 2)]! };
}

/** When the pair is first said to look exchanged, s; null when never. */
function firstFound(one: Person, other: Person, isCrossed: boolean): number | null {
  const watch = createExchangedSignals();
  const of = { one, other };
  for (let second = 0; second < seconds; second += 1) {
    const atMs = monotonicMs(second * 1_000);
    for (const [athleteId, strapOf, oximeterOf] of [
      ['one', 'one', isCrossed ? 'other' : 'one'],
      ['other', 'other', isCrossed ? 'one' : 'other'],
    ] as const) {
      const strap = of[strapOf].strap[second]!;
      const oximeter = of[oximeterOf].oximeter[second]!;
      if (!Number.isNaN(strap)) watch.push({ athleteId, from: 'strap', atMs, bpm: strap });
      if (!Number.isNaN(oximeter)) watch.push({ athleteId, from: 'oximeter', atMs, bpm: oximeter });
    }
    if (second % 5 === 0 && watch.look(atMs).length > 0) return second;
  }
  return null;
}

test.skipIf(!isThere)('crossed pairs are found where their pulses differ, and no pair as worn is', () => {
  const people = readdirSync(folder)
    .filter((name) => /^bidmc_\d+\.csv$/.test(name))
    .map(personOf);
  const pairs = people.flatMap((one, index) => people.slice(index + 1).map((other) => [one, other] as const));
  const apart = pairs.filter(([one, other]) => Math.abs(one.medianBpm - other.medianBpm) >= 8);
  const foundApart = apart.map(([one, other]) => firstFound(one, other, true));
  const close = pairs.filter((pair) => !apart.includes(pair));
  const foundClose = close.filter(([one, other]) => firstFound(one, other, true) !== null);
  const falselyFound = pairs.filter(([one, other]) => firstFound(one, other, false) !== null);
  const times = foundApart.filter((time) => time !== null).sort((a, b) => a - b);
  console.info(
    `${pairs.length} pairs: ${times.length} of ${apart.length} found at 8 /min or more apart (median ${times[Math.floor(times.length / 2)]} s), ` +
      `${foundClose.length} of ${close.length} closer; ${falselyFound.length} false in ${((pairs.length * seconds) / 3_600).toFixed(0)} h`,
  );
  expect(pairs).toHaveLength(325);
  expect(times.length / apart.length).toBeGreaterThan(0.97);
  expect(falselyFound).toHaveLength(0);
});
