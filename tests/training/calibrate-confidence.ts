// Fits, for each kind of evidence, the line from log odds to confidence (Platt 1999), and writes the reliability diagram to
// tests/training/reliability-results.json. Found holds are true where a label says so: real people who breathe throughout
// (every hold false) and the real 10 and 20 s trials, each by the networks that have not met them, and both scoring
// simulators (SIMULATED). Sessions alternate between fitting and checking.
// Run: npx tsx tests/training/calibrate-confidence.ts [DATASETS_FOLDER]

import { writeFileSync } from 'node:fs';
import type { EvidenceKind } from '../../src/holds/hold-evidence.ts';
import { foundIn, type SmoothingNetworks } from '../../src/holds/smoothing.ts';
import type { Sample } from '../../src/samples/sample.ts';
import { apnoeaTrials } from '../support/corpus/apnoea-dataset.ts';
import { athleteCorpus } from '../support/corpus/athlete-corpus.ts';
import type { TrueInterval } from '../support/corpus/corpus-session.ts';
import { sketchedCorpus } from '../support/corpus/sketched-corpus.ts';
import { smoothingWithoutHalf } from './folds/fold-networks.ts';
import { breathingRecordings } from './real-breathing.ts';
import { rowsOf } from './real-rows.ts';

const folder = process.argv[2] ?? new URL('../../../shared/datasets', import.meta.url).pathname;

interface Found {
  readonly kind: EvidenceKind;
  readonly logOdds: number;
  readonly isTrue: boolean;
  readonly fits: boolean;
  readonly isReal: boolean;
}
const found: Found[] = [];

function take(
  samples: readonly Sample[],
  truths: readonly TrueInterval[],
  networks: SmoothingNetworks | undefined,
  fits: boolean,
  isReal: boolean,
): void {
  const rows = rowsOf(samples);
  if (rows.length < 20) return;
  for (const { kind, logOdds, startMs, endMs } of foundIn(rows, networks)) {
    const isTrue = truths.some(
      (truth) =>
        (Math.min(truth.endMs, endMs) - Math.max(truth.startMs, startMs)) /
          (Math.max(truth.endMs, endMs) - Math.min(truth.startMs, startMs)) >=
        0.5,
    );
    found.push({ kind, logOdds, isTrue, fits, isReal });
  }
}

let index = 0;
for (const { part, samples } of breathingRecordings(folder)) {
  index += 1;
  if (samples.length > 0)
    take(samples, [], part === 'unseen' ? undefined : smoothingWithoutHalf[part], index % 2 === 0, true);
}
for (const trial of apnoeaTrials(`${folder}/simulated-apnoea`)) {
  index += 1;
  const subject = Number(/^Subject(\d+)_/.exec(trial.name)?.[1] ?? 0);
  const half = [1, 5, 9, 13, 17].includes(subject) ? 0 : 1;
  take(trial.samples, trial.holds, smoothingWithoutHalf[half], index % 2 === 0, true);
}
/** What other people wear: the same sessions by fewer sensors. */
const worn: readonly (readonly Sample['channel'][])[] = [
  ['rrIntervalMs', 'heartRateBpm', 'spo2Percent', 'pulseRateBpm'],
  ['heartRateBpm', 'spo2Percent', 'pulseRateBpm'],
  ['spo2Percent', 'pulseRateBpm'],
  ['heartRateBpm'],
];
for (const corpus of [sketchedCorpus(5, 14, () => 0.5), athleteCorpus(5, 16, () => 0.5)]) {
  for (const session of corpus) {
    index += 1;
    const channels = worn[index % worn.length]!;
    const samples = session.samples.filter(({ channel }) => channels.includes(channel));
    take(samples, session.holds, undefined, Math.floor(index / worn.length) % 2 === 0, false);
  }
}

/** Newton's method on the logistic likelihood, with a weak pull towards the identity. */
function fitLine(cases: readonly Found[]): { offset: number; slope: number } {
  let offset = 0;
  let slope = 1;
  const pull = 4;
  for (let round = 0; round < 200; round++) {
    let [g0, g1, h00, h01, h11] = [pull * -offset, pull * (1 - slope), pull, 0, pull];
    for (const { logOdds, isTrue } of cases) {
      const x = Math.min(12, logOdds);
      const p = 1 / (1 + Math.exp(-(offset + slope * x)));
      const rest = (isTrue ? 1 : 0) - p;
      const weight = p * (1 - p);
      g0 += rest;
      g1 += rest * x;
      h00 += weight;
      h01 += weight * x;
      h11 += weight * x * x;
    }
    const determinant = h00 * h11 - h01 * h01;
    const step = (change: number): number => Math.max(-0.5, Math.min(0.5, change));
    offset += step((h11 * g0 - h01 * g1) / determinant);
    slope = Math.max(0.1, slope + step((h00 * g1 - h01 * g0) / determinant));
  }
  return { offset, slope };
}

const round = (value: number, digits = 3): number => Number(value.toFixed(digits));
const kinds = [...new Set(found.map(({ kind }) => kind))].sort();
const lines = new Map(
  kinds.map((kind) => [kind, fitLine(found.filter((one) => one.kind === kind && one.fits))]),
);
const confidence = ({ kind, logOdds }: Found): number => {
  const { offset, slope } = lines.get(kind)!;
  return 1 / (1 + Math.exp(-(offset + slope * Math.min(12, logOdds))));
};
const edges = [0, 0.2, 0.4, 0.6, 0.8, 0.9, 1.0001];
const diagram = (cases: readonly Found[]) =>
  edges.slice(1).flatMap((to, i) => {
    const inside = cases.filter((one) => confidence(one) >= edges[i]! && confidence(one) < to);
    if (inside.length === 0) return [];
    const said = inside.reduce((sum, one) => sum + confidence(one), 0) / inside.length;
    const was = inside.filter(({ isTrue }) => isTrue).length / inside.length;
    return [{ holds: inside.length, said: round(said), was: round(was), apart: round(Math.abs(said - was)) }];
  });
/** Expected calibration error: the distance from the diagonal, each bin by its holds. */
const errorOf = (cases: readonly Found[]): number => {
  const bins = diagram(cases);
  const count = bins.reduce((sum, bin) => sum + bin.holds, 0);
  return round(bins.reduce((sum, bin) => sum + bin.apart * bin.holds, 0) / Math.max(1, count));
};
const checked = found.filter(({ fits }) => !fits);
const result = {
  what: 'Confidence of holds found afterwards against whether they were holds; sessions that the lines were not fitted on',
  lines: Object.fromEntries(
    [...lines].map(([kind, { offset, slope }]) => [kind, { offset: round(offset), slope: round(slope) }]),
  ),
  all: { calibrationError: errorOf(checked), bins: diagram(checked) },
  realPeople: {
    calibrationError: errorOf(checked.filter(({ isReal }) => isReal)),
    bins: diagram(checked.filter(({ isReal }) => isReal)),
  },
  simulated: {
    calibrationError: errorOf(checked.filter(({ isReal }) => !isReal)),
    bins: diagram(checked.filter(({ isReal }) => !isReal)),
  },
  byKind: Object.fromEntries(
    kinds.map((kind) => {
      const of = checked.filter((one) => one.kind === kind);
      return [kind, { holds: of.length, calibrationError: errorOf(of), bins: diagram(of) }];
    }),
  ),
};
writeFileSync(new URL('./reliability-results.json', import.meta.url), `${JSON.stringify(result, null, 2)}\n`);
console.log(JSON.stringify(result.lines));
for (const [name, { calibrationError, bins }] of [
  ['all', result.all],
  ['real people', result.realPeople],
  ['simulated', result.simulated],
  ...Object.entries(result.byKind),
] as const)
  console.log(
    `${name.padEnd(18)} error ${calibrationError}: ${bins.map(({ said, was, holds }) => `${said}->${was} (${holds})`).join(' ')}`,
  );
