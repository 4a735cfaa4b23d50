// How well holds are found: over two seeded simulated corpora (SIMULATED people) and, where present, real recordings.
// Writes artefacts/accuracy.json and .svg, and the summary kept in the repository. Run: npm run bench:accuracy

import { existsSync, mkdirSync, writeFileSync } from 'node:fs';
import type { Sample } from '../../src/samples/sample.ts';
import { apnoeaTrials, holdsWithoutSubject } from '../support/corpus/apnoea-dataset.ts';
import { athleteCorpus } from '../support/corpus/athlete-corpus.ts';
import { breathingPeople } from '../support/corpus/breathing-people.ts';
import { type BreathingRates, breathingRates, summariseRates } from '../support/corpus/breathing-rates.ts';
import type { CorpusSession } from '../support/corpus/corpus-session.ts';
import { type SessionScore, scoreSession, summarise } from '../support/corpus/score.ts';
import {
  type ContractionScore,
  scoreContractions,
  summariseContractions,
} from '../support/corpus/score-contractions.ts';
import { sketchedCorpus } from '../support/corpus/sketched-corpus.ts';

const root = new URL('../../', import.meta.url).pathname;
const seed = Number(process.env['ACCURACY_SEED'] ?? 1);
/** Two of the quiet rests last a night, the others half an hour. */
const restHours = (index: number): number => (index < 2 ? 8 : 0.5);

const goals = {
  f1: 0.98,
  medianErrorS: 2,
  p90ErrorS: 5,
  liveStartS: 20,
  liveEndS: 8,
  falseHoldsPer20hOfRestAndWalking: 1,
  withinStatedUncertainty: 0.68,
};

const contractions: ContractionScore[] = [];

function scoreAll(sessions: Iterable<CorpusSession>): SessionScore[] {
  const scores: SessionScore[] = [];
  for (const session of sessions) {
    scores.push(scoreSession(session));
    contractions.push(...scoreContractions(session));
    if (scores.length % 20 === 0) {
      console.error(`  ${scores.length} sessions`);
    }
  }
  return scores;
}

/** Share of true boundaries within k times the stated uncertainty, beside what a normal error would give. */
function reliability(
  scores: readonly SessionScore[],
): { k: number; nominal: number; start: number; end: number }[] {
  const matched = scores.flatMap((score) => score.matched);
  return [
    [0.5, 0.383],
    [1, 0.683],
    [1.5, 0.866],
    [2, 0.954],
  ].map(([k, nominal]) => {
    const share = (within: (m: (typeof matched)[number]) => boolean): number =>
      matched.length === 0 ? Number.NaN : matched.filter(within).length / matched.length;
    return {
      k: k!,
      nominal: nominal!,
      start: share((m) => Math.abs(m.found.start.atMs - m.truth.startMs) <= k! * m.found.start.uncertaintyMs),
      end: share((m) => Math.abs(m.found.end!.atMs - m.truth.endMs) <= k! * m.found.end!.uncertaintyMs),
    };
  });
}

function split(scores: readonly SessionScore[]): Record<string, ReturnType<typeof summarise>> {
  const out: Record<string, ReturnType<typeof summarise>> = {};
  for (const axis of new Set(scores.flatMap((score) => Object.keys(score.conditions)))) {
    for (const value of [...new Set(scores.map((score) => score.conditions[axis]))].sort()) {
      if (value !== undefined) {
        out[`${axis}: ${value}`] = summarise(scores.filter((score) => score.conditions[axis] === value));
      }
    }
  }
  return out;
}

function report(title: string, scores: readonly SessionScore[]) {
  const calm = scores.filter((score) => ['quietRest', 'walking'].includes(score.conditions['shape'] ?? ''));
  const calmHours = calm.reduce((sum, score) => sum + score.hours, 0);
  const calmFalse = calm.reduce((sum, score) => sum + score.falseHolds.length, 0);
  const calmLiveFalse = calm.reduce((sum, score) => sum + score.liveFalseCount, 0);
  return {
    title,
    all: summarise(scores),
    /** Holds shorter than 26 s have a shape of their own; the rest is what training consists of. */
    allButShort: summarise(scores.filter((score) => score.conditions['shape'] !== 'short')),
    restAndWalking: {
      hours: calmHours,
      falseHolds: calmFalse,
      per20h: calmHours === 0 ? null : (20 * calmFalse) / calmHours,
      livePer20h: calmHours === 0 ? null : (20 * calmLiveFalse) / calmHours,
    },
    reliability: reliability(scores),
    byCondition: split(scores),
  };
}

const began = performance.now();
console.error('sketched athletes (SIMULATED)');
const sketched = scoreAll(sketchedCorpus(seed, 14, restHours));
console.error('physiological athletes (SIMULATED)');
const athletes = scoreAll(athleteCorpus(seed, 16, restHours));
const folder = process.env['SLACKWATER_APNOEA_DATASET'] ?? `${root}../shared/datasets/simulated-apnoea`;
const real: SessionScore[] = [];
const realBeats: SessionScore[] = [];
const rates: BreathingRates[] = [];
if (existsSync(`${folder}/hold_labels_derived.csv`)) {
  console.error('real people, neck pleth only');
  rates.push(...breathingRates(folder));
  for (const trial of apnoeaTrials(folder)) {
    real.push(scoreSession(trial, (cleaned) => holdsWithoutSubject(trial.name, cleaned)));
    const beats = (cleaned: readonly Sample[]): Sample[] =>
      cleaned.filter((s) => s.channel === 'rrIntervalMs');
    realBeats.push(scoreSession(trial, (cleaned) => holdsWithoutSubject(trial.name, beats(cleaned))));
  }
} else {
  console.error(`*** REAL RECORDINGS SKIPPED: no dataset at ${folder} (set SLACKWATER_APNOEA_DATASET) ***`);
}

const breathing = scoreAll(breathingPeople(`${folder}/..`));

const result = {
  seed,
  goals,
  simulatedSessions: sketched.length + athletes.length,
  /** Of true holds of 40 s and more; the simulators' ripples are mostly smaller than the heart's own unrest. */
  contractionEstimates: summariseContractions(contractions),
  ...(rates.length > 0 && {
    /** Real people: neck pleth against breaths counted in the pressure at the mouth, over a minute. */
    breathingRates: summariseRates(rates),
  }),
  reports: [
    report('physiological simulator (SIMULATED)', athletes),
    report('sketched simulator (SIMULATED)', sketched),
    report('both simulators (SIMULATED)', [...sketched, ...athletes]),
    ...(breathing.length > 0 ? [report('real people breathing throughout', breathing)] : []),
    ...(real.length > 0
      ? [
          report(
            'real holds of 10 and 20 s, neck pleth only, labels from airway pressure; each subject by a network not trained on them (live: trained on all)',
            real,
          ),
          report('the same real holds, afterwards from the beats in the pleth alone', realBeats),
        ]
      : []),
  ],
};
const rounded = JSON.parse(
  JSON.stringify(result, (_, value) =>
    typeof value === 'number' ? Math.round(value * 1_000) / 1_000 : value,
  ),
) as typeof result;
mkdirSync(`${root}artefacts`, { recursive: true });
writeFileSync(`${root}artefacts/accuracy.json`, `${JSON.stringify(rounded, null, 2)}\n`);
writeFileSync(`${root}artefacts/accuracy.svg`, plot([...sketched, ...athletes]));
writeFileSync(`${root}tests/bench/accuracy-results.json`, `${JSON.stringify(rounded, null, 2)}\n`);
for (const { title, all, allButShort, restAndWalking, byCondition } of rounded.reports) {
  console.log(title);
  if (all.trueHolds === 0) {
    for (const [what, s] of Object.entries(byCondition)) {
      const perHours = (per10h: number): number => Math.round((per10h * s.hours) / 10);
      console.log(
        `  ${what.padEnd(26)} ${s.sessions} recordings, ${s.hours} h: false holds ${perHours(s.falseHoldsPer10h)} (live ${perHours(s.liveFalsePer10h)})`,
      );
    }
    continue;
  }
  for (const [name, s] of [
    ['all', all],
    ['all but very short', allButShort],
  ] as const) {
    console.log(
      `  ${name.padEnd(20)} F1 ${s.f1} (P ${s.precision} R ${s.recall})  start |e| ${s.start.medianS}/${s.start.p90S} s bias ${s.start.biasS} within ${s.start.within}` +
        `  end |e| ${s.end.medianS}/${s.end.p90S} s bias ${s.end.biasS} within ${s.end.within}` +
        `  live: found ${s.liveRecall} start ${s.liveStartDelay.medianS}/${s.liveStartDelay.p90S} s end ${s.liveEndDelay.medianS}/${s.liveEndDelay.p90S} s`,
    );
  }
  if (restAndWalking.per20h !== null) {
    console.log(
      `  rest and walking     ${restAndWalking.hours} h, false holds per 20 h ${restAndWalking.per20h} (live ${restAndWalking.livePer20h})`,
    );
  }
}
{
  const c = rounded.contractionEstimates;
  console.log(
    `contraction estimates: ${c.estimated} of ${c.holdsWith} holds with contractions (median error ${c.medianErrorS} s), ${c.wronglyEstimated} of ${c.holdsWithout} without`,
  );
}
if (rounded.breathingRates !== undefined) {
  const r = rounded.breathingRates;
  console.log(
    `breathing rate, real people (neck pleth): said for ${r.estimated} of ${r.photodiodes} photodiodes, median error ${r.medianErrorPerMin} /min, within 2 /min ${r.within2PerMin}`,
  );
}
console.log(`took ${((performance.now() - began) / 1_000).toFixed(0)} s`);

/** Distribution of boundary errors, and F1 by condition, as one SVG. */
function plot(scores: readonly SessionScore[]): string {
  const matched = scores.flatMap((score) => score.matched);
  const width = 900;
  const conditions = Object.entries(split(scores)).filter(([, s]) => s.f1 !== null);
  const height = 330 + conditions.length * 16;
  const x = (s: number): number => 60 + (Math.min(20, Math.max(0, s)) / 20) * 380;
  const y = (share: number): number => 250 - share * 200;
  const curve = (errors: number[], colour: string): string => {
    const sorted = errors.sort((a, b) => a - b);
    const points = sorted.map((e, i) => `${x(e).toFixed(1)},${y((i + 1) / sorted.length).toFixed(1)}`);
    return `<polyline fill="none" stroke="${colour}" stroke-width="2" points="${points.join(' ')}"/>`;
  };
  const parts = [
    `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}" font-family="sans-serif" font-size="11">`,
    `<rect width="100%" height="100%" fill="white"/>`,
    `<text x="20" y="20" font-size="14">Hold boundaries against the truth, SIMULATED sessions (${scores.length}), no marks</text>`,
    ...[0, 2, 5, 10, 20].map(
      (s) =>
        `<line x1="${x(s)}" x2="${x(s)}" y1="50" y2="250" stroke="#ddd"/><text x="${x(s) - 4}" y="265">${s}</text>`,
    ),
    ...[0, 0.5, 0.9, 1].map(
      (share) =>
        `<line x1="60" x2="440" y1="${y(share)}" y2="${y(share)}" stroke="#ddd"/><text x="30" y="${y(share) + 4}">${share}</text>`,
    ),
    curve(
      matched.map((m) => Math.abs(m.found.start.atMs - m.truth.startMs) / 1_000),
      '#0b5',
    ),
    curve(
      matched.map((m) => Math.abs(m.found.end!.atMs - m.truth.endMs) / 1_000),
      '#b50',
    ),
    `<text x="300" y="200" fill="#0b5">start</text><text x="300" y="216" fill="#b50">end</text><text x="190" y="282">absolute error, s (share below)</text>`,
    `<text x="480" y="45">within k times the stated uncertainty (k: normal, start, end)</text>`,
    ...reliability(scores).map(
      (r, i) =>
        `<text x="480" y="${65 + i * 16}">${r.k}: ${r.nominal} ${r.start.toFixed(2)} ${r.end.toFixed(2)}</text>`,
    ),
    `<text x="20" y="310" font-size="13">F1 by condition (line: goal ${goals.f1})</text>`,
    ...conditions.map(([name, s], i) => {
      const top = 320 + i * 16;
      return `<text x="20" y="${top + 10}">${name} (${s.trueHolds})</text><rect x="230" y="${top}" width="${(s.f1! * 500).toFixed(1)}" height="11" fill="#68a"/><text x="${240 + s.f1! * 500}" y="${top + 10}">${s.f1!.toFixed(2)}</text>`;
    }),
    `<line x1="${230 + goals.f1 * 500}" x2="${230 + goals.f1 * 500}" y1="318" y2="${height - 8}" stroke="black" stroke-dasharray="3"/>`,
    '</svg>',
  ];
  return `${parts.join('\n')}\n`;
}
