// Fits, for each kind of evidence, the line from log odds to confidence (Platt 1999), and writes the reliability diagram to
// tests/training/reliability-results.json. Found holds are true where a label says so: real people who breathe throughout
// (every hold false) and the real 10 and 20 s trials, each by the networks that have not met them, both scoring simulators and
// the foreign generators (SIMULATED). First a line for each kind, on half of the sessions; then, because foreign holds show these
// lines to be too sure, a correction for each group of kinds on the real people and seed 1 of one foreign generator. The other
// seed and the other generator are the check.
// Run: npx tsx tests/training/calibrate-confidence.ts [DATASETS_FOLDER]

import { writeFileSync } from 'node:fs';
import { type EvidenceKind, neededLogOdds } from '../../src/holds/hold-evidence.ts';
import { foundIn, type SmoothingNetworks } from '../../src/holds/smoothing.ts';
import type { Sample } from '../../src/samples/sample.ts';
import type { SecondRow } from '../../src/signal/second-rows.ts';
import { apnoeaTrials } from '../support/corpus/apnoea-dataset.ts';
import { athleteCorpus } from '../support/corpus/athlete-corpus.ts';
import type { TrueInterval } from '../support/corpus/corpus-session.ts';
import { sketchedCorpus } from '../support/corpus/sketched-corpus.ts';
import { alveolarAthlete } from '../support/foreign-alveolar/alveolar-athlete.ts';
import { sketchAthlete } from '../support/foreign-sketch/sketch-athlete.ts';
import { cleanedRows } from '../support/scoring/cleaned-rows.ts';
import { liveThrough, sensorKits, sessionKinds } from '../support/scoring/living-athlete.ts';
import { smoothingWithoutHalf } from './folds/fold-networks.ts';
import { breathingRecordings } from './real-breathing.ts';
import { rowsOf } from './real-rows.ts';

const folder = process.argv[2] ?? new URL('../../../shared/datasets', import.meta.url).pathname;

interface Found {
  readonly kind: EvidenceKind;
  readonly logOdds: number;
  readonly isTrue: boolean;
  readonly fits: boolean;
  readonly set: string;
}
const found: Found[] = [];

function take(
  samples: readonly Sample[],
  truths: readonly TrueInterval[],
  networks: SmoothingNetworks | undefined,
  fits: boolean,
  set: string,
): void {
  takeRows(rowsOf(samples), truths, networks, fits, set);
}

function takeRows(
  rows: readonly SecondRow[],
  truths: readonly TrueInterval[],
  networks: SmoothingNetworks | undefined,
  fits: boolean,
  set: string,
): void {
  if (rows.length < 20) return;
  for (const { kind, logOdds, startMs, endMs } of foundIn(rows, networks)) {
    const isTrue = truths.some(
      (truth) =>
        (Math.min(truth.endMs, endMs) - Math.max(truth.startMs, startMs)) /
          (Math.max(truth.endMs, endMs) - Math.min(truth.startMs, startMs)) >=
        0.5,
    );
    found.push({ kind, logOdds, isTrue, fits, set });
  }
}

let index = 0;
for (const { part, samples } of breathingRecordings(folder)) {
  index += 1;
  if (samples.length > 0)
    take(
      samples,
      [],
      part === 'unseen' ? undefined : smoothingWithoutHalf[part],
      index % 2 === 0,
      'real, who breathe',
    );
}
for (const trial of apnoeaTrials(`${folder}/simulated-apnoea`)) {
  index += 1;
  const subject = Number(/^Subject(\d+)_/.exec(trial.name)?.[1] ?? 0);
  const half = [1, 5, 9, 13, 17].includes(subject) ? 0 : 1;
  take(trial.samples, trial.holds, smoothingWithoutHalf[half], index % 2 === 0, 'real trials');
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
    take(samples, session.holds, undefined, Math.floor(index / worn.length) % 2 === 0, 'simulators');
  }
}

/** Its holds join in the correction, not in the first lines. */
const correctsBy = 'alveolar, seed 1';
for (const [name, factory] of [
  ['alveolar', alveolarAthlete],
  ['sketch', sketchAthlete],
] as const)
  for (const seed of [1, 2])
    for (const round of [0, 1])
      for (const [k, kind] of sessionKinds.entries())
        for (const [s, kit] of sensorKits.entries()) {
          const session = liveThrough(
            factory({ seed: 1_000 * seed + 100 * round + 10 * k + s, kind, kit }),
            name,
            85,
          );
          takeRows(cleanedRows(session), session.holds, undefined, false, `${name}, seed ${seed}`);
        }

interface Line {
  readonly offset: number;
  readonly slope: number;
}
const identity: Line = { offset: 0, slope: 1 };
const along = ({ offset, slope }: Line, x: number): number => offset + slope * x;

/** Newton's method on the logistic likelihood, with a pull towards another line as if by so many cases. */
function fitLine(
  cases: readonly { readonly x: number; readonly isTrue: boolean }[],
  towards: Line = identity,
  pull = 4,
): Line {
  let { offset, slope } = towards;
  for (let round = 0; round < 200; round++) {
    let [g0, g1, h00, h01, h11] = [
      pull * (towards.offset - offset),
      pull * (towards.slope - slope),
      pull,
      0,
      pull,
    ];
    for (const { x, isTrue } of cases) {
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
const capped = (one: Found): number => Math.min(12, one.logOdds);
const firstLines = new Map(
  kinds.map((kind) => {
    const cases = found.filter((one) => one.kind === kind && one.fits);
    return [kind, fitLine(cases.map((one) => ({ ...one, x: capped(one) })))];
  }),
);
/** Kinds of too few holds each are corrected together; the others by what is common to all. */
const groups: readonly (readonly EvidenceKind[])[] = [
  ['beats'],
  ['pleth'],
  ['rateAndSaturation', 'saturation'],
];
/** A chest band decides by itself, and nothing shows its line to be wrong. */
const leftAlone: readonly EvidenceKind[] = ['breathing', 'none'];
const isFittedOn = ({ set }: Found): boolean => set.startsWith('real') || set === correctsBy;
const corrects = found
  .filter((one) => isFittedOn(one) && one.logOdds >= neededLogOdds[one.kind].proposed)
  .map((one) => ({ ...one, x: along(firstLines.get(one.kind)!, capped(one)) }));
const common = fitLine(corrects, identity, 0.1);
const lines = new Map(
  kinds.map((kind) => {
    const first = firstLines.get(kind)!;
    if (leftAlone.includes(kind)) return [kind, first];
    const group = groups.find((some) => some.includes(kind));
    const { offset, slope } =
      group === undefined
        ? common
        : fitLine(
            corrects.filter((one) => group.includes(one.kind)),
            common,
            6,
          );
    return [kind, { offset: offset + slope * first.offset, slope: slope * first.slope }];
  }),
);
const confidence = (one: Found): number => 1 / (1 + Math.exp(-along(lines.get(one.kind)!, capped(one))));
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
const stated = found.filter((one) => one.logOdds >= neededLogOdds[one.kind].proposed);
const checked = stated.filter((one) => !one.fits && !isFittedOn(one));
const of = (cases: readonly Found[]) => ({ calibrationError: errorOf(cases), bins: diagram(cases) });
const sets = [...new Set(found.map(({ set }) => set))];
const result = {
  what: 'Confidence of holds found afterwards, as far as they are shown, against whether they were holds',
  lines: Object.fromEntries(
    [...lines].map(([kind, { offset, slope }]) => [kind, { offset: round(offset), slope: round(slope) }]),
  ),
  notFittedOn: of(checked),
  bySet: Object.fromEntries(
    sets.map((set) => {
      const some = stated.filter((one) => one.set === set);
      return [
        set,
        { fittedOn: some.every(isFittedOn), ...of(some.filter((one) => isFittedOn(one) || !one.fits)) },
      ];
    }),
  ),
  byKind: Object.fromEntries(
    kinds.map((kind) => {
      const some = checked.filter((one) => one.kind === kind);
      return [kind, { holds: some.length, ...of(some) }];
    }),
  ),
};
writeFileSync(new URL('./reliability-results.json', import.meta.url), `${JSON.stringify(result, null, 2)}\n`);
console.log(JSON.stringify(result.lines));
for (const [name, { calibrationError, bins }] of [
  ['not fitted on', result.notFittedOn],
  ...Object.entries(result.bySet),
  ...Object.entries(result.byKind),
] as const)
  console.log(
    `${name.padEnd(18)} error ${calibrationError}: ${bins.map(({ said, was, holds }) => `${said}->${was} (${holds})`).join(' ')}`,
  );
