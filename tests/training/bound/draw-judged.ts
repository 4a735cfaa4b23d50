// Writes sessions of the judging generators (SIMULATED) as rows and features, for a bound on what any detector could find and
// for scoring many networks at once. No network that is shipped may learn from these files.
// Run: draw-judged.ts OUT_PREFIX SEEDS PART PARTS [UNTIL_S]; SEEDS as `11-14,900-903`; every PARTS-th session is this part's.

import { closeSync, openSync, writeSync } from 'node:fs';
import { featureCount, featuresOfRecording } from '../../../src/holds/row-features.ts';
import { createPipeline } from '../../../src/pipeline.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { createSecondRows, type SecondRow } from '../../../src/signal/second-rows.ts';
import { foreignGenerators } from '../../bench/accuracy-foreign.ts';
import { settingsWithFloor } from '../../support/scoring/judge-session.ts';
import { liveThrough, sensorKits, sessionKinds } from '../../support/scoring/living-athlete.ts';
import type { ScoredSession } from '../../support/scoring/scored-session.ts';
import { numbersOf } from '../real-rows.ts';

/** What the product's rows leave out: heart rate by quarters of a second, a pleth by quarters, both other rates. */
const moreCount = 10;
const allCount = featureCount + moreCount;
/** Features are stored as whole numbers. */
const unit = 4_096;

const [prefix, seeds, part, parts, untilS = '1e9'] = process.argv.slice(2);
if (prefix === undefined || seeds === undefined || part === undefined || parts === undefined)
  throw new Error('usage: draw-judged.ts OUT_PREFIX SEEDS PART PARTS [UNTIL_S]');

function rowsAndSamples(session: ScoredSession): { rows: SecondRow[]; samples: Sample[] } {
  const pipeline = createPipeline(settingsWithFloor(85), [], { scope: 'signals' });
  const stream = createSecondRows();
  const rows: SecondRow[] = [];
  const samples: Sample[] = [];
  for (const event of session.events)
    for (const output of pipeline.push(event))
      if (output.type === 'sample') {
        samples.push(output.sample);
        rows.push(...stream.push(output.sample));
      }
  return { rows: [...rows, ...stream.flush()], samples };
}

const clipped = (value: number): number => (Number.isFinite(value) ? Math.max(-4, Math.min(4, value)) : 0);

/** The newest of some samples at or before a time that only grows; NaN when it is older than 5 s. */
function newestOf(samples: readonly Sample[]): (atMs: number) => number {
  let next = 0;
  return (atMs) => {
    while (next < samples.length && samples[next]!.atMs <= atMs) next++;
    const last = samples[next - 1];
    return last === undefined || atMs - last.atMs > 5_000 ? Number.NaN : last.value;
  };
}

/** The heart rate in the interval between beats that a time lies in; times only grow. */
function rateBetweenBeats(beats: readonly Sample[]): (atMs: number) => number {
  let next = 0;
  return (atMs) => {
    while (next < beats.length && beats[next]!.atMs < atMs) next++;
    const beat = beats[next];
    return beat === undefined || beat.atMs - beat.value >= atMs ? Number.NaN : 60_000 / beat.value;
  };
}

function plethQuarters(samples: readonly Sample[], rows: readonly SecondRow[]): number[][] {
  let at = 0;
  const quarters = rows.map(({ atMs }) =>
    [0, 1, 2, 3].map((quarter) => {
      const [fromMs, toMs] = [atMs - 1_000 + 250 * quarter, atMs - 750 + 250 * quarter];
      while (at < samples.length && samples[at]!.atMs <= fromMs) at++;
      let [sum, count] = [0, 0];
      for (; at < samples.length && samples[at]!.atMs <= toMs; at++, count++) sum += samples[at]!.value;
      return sum / count;
    }),
  );
  const off = quarters.map((four, i) => four.map((value) => value - rows[i]!.plethBreathing));
  const sizes = off
    .flat()
    .filter(Number.isFinite)
    .map(Math.abs)
    .sort((a, b) => a - b);
  const usual = sizes[Math.floor(0.8 * sizes.length)] ?? 1;
  return off.map((four) => four.map((value) => (2 * value) / usual));
}

function moreFeatures(rows: readonly SecondRow[], samples: readonly Sample[]): number[][] {
  const of = (channel: Sample['channel']): Sample[] =>
    samples.filter((s) => s.channel === channel && s.quality !== 'bad');
  const between = rateBetweenBeats(of('rrIntervalMs'));
  const [strap, pulse] = [newestOf(of('heartRateBpm')), newestOf(of('pulseRateBpm'))];
  const pleth = plethQuarters(of('pleth'), rows);
  return rows.map(({ atMs, heartRateBpm }, i) => {
    const beside = (bpm: number): number => 20 * Math.log(bpm / heartRateBpm);
    const quarters = [875, 625, 375, 125].map((agoMs) => beside(between(atMs - agoMs)));
    return [...quarters, beside(strap(atMs)), beside(pulse(atMs)), ...pleth[i]!].map(clipped);
  });
}

function heldRows(rows: readonly SecondRow[], session: ScoredSession): Uint8Array {
  return Uint8Array.from(rows, ({ atMs }) =>
    session.holds.some(({ startMs, endMs }) => Math.min(atMs, endMs) - Math.max(atMs - 1_000, startMs) > 500)
      ? 1
      : 0,
  );
}

const began = performance.now();
const features = openSync(`${prefix}.features`, 'w');
const numbers = openSync(`${prefix}.rows`, 'w');
const said = openSync(`${prefix}.jsonl`, 'w');
let index = 0;
const seedList = seeds.split(',').flatMap((span) => {
  const [from, to = from] = span.split('-').map(Number);
  return Array.from({ length: to! - from! + 1 }, (_, i) => from! + i);
});
for (const seed of seedList)
  for (const round of [0, 1])
    for (const [k, kind] of sessionKinds.entries())
      for (const [s, kit] of sensorKits.entries())
        for (const { name, factory } of foreignGenerators) {
          if (index++ % Number(parts) !== Number(part)) continue;
          if (performance.now() - began > 1_000 * Number(untilS)) continue;
          // The seeds of `scoreForeign`.
          const options = { seed: 1_000 * seed + 100 * round + 10 * k + s, kind, kit };
          const session = liveThrough(factory(options), name, 85);
          const { rows, samples } = rowsAndSamples(session);
          const usual = featuresOfRecording(rows);
          const more = moreFeatures(rows, samples);
          const all = new Int16Array(rows.length * allCount);
          for (let i = 0; i < rows.length; i++) {
            for (let f = 0; f < featureCount; f++)
              all[i * allCount + f] = Math.round(unit * usual[i * featureCount + f]!);
            for (let f = 0; f < moreCount; f++)
              all[i * allCount + featureCount + f] = Math.round(unit * more[i]![f]!);
          }
          writeSync(features, new Int32Array([rows.length]));
          writeSync(features, all);
          writeSync(features, heldRows(rows, session));
          writeSync(numbers, numbersOf(rows));
          const holds = session.holds.map(({ startMs, endMs, lungs }) => ({ startMs, endMs, lungs }));
          writeSync(
            said,
            `${JSON.stringify({ generator: name, seed, sessionSeed: options.seed, rows: rows.length, firstMs: rows[0]!.atMs, ...session.conditions, holds })}\n`,
          );
        }
for (const file of [features, numbers, said]) closeSync(file);
