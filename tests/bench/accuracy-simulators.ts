// The simulators written beside the detector (SIMULATED), and real holds of 10 to 20 s by cross-validation: scored as one
// part of the accuracy bench. Says nothing by itself about people: see tests/bench/README.md.

import { existsSync } from 'node:fs';
import type { Sample } from '../../src/samples/sample.ts';
import { apnoeaTrials, holdsWithoutSubject } from '../support/corpus/apnoea-dataset.ts';
import { athleteCorpus } from '../support/corpus/athlete-corpus.ts';
import { type BreathingRates, breathingRates, summariseRates } from '../support/corpus/breathing-rates.ts';
import type { CorpusSession } from '../support/corpus/corpus-session.ts';
import { type SessionScore, scoreSession, summarise } from '../support/corpus/score.ts';
import {
  type ContractionScore,
  scoreContractions,
  summariseContractions,
} from '../support/corpus/score-contractions.ts';
import { sketchedCorpus } from '../support/corpus/sketched-corpus.ts';

/** Two of the quiet rests last a night, the others half an hour. */
const restHours = (index: number): number => (index < 2 ? 8 : 0.5);

export const simulatorGoals = {
  f1: 0.98,
  medianErrorS: 2,
  p90ErrorS: 5,
  liveStartS: 20,
  liveEndS: 8,
  falseHoldsPer20hOfRestAndWalking: 1,
  withinStatedUncertainty: 0.68,
};

const quickRestHours = (): number => 0.3;

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

/** Real holds of 10 and 20 s; undefined, loudly, where the data set is absent. `folder` is that of simulated-apnoea. */
export function scoreRealTrials(folder: string) {
  if (!existsSync(`${folder}/hold_labels_derived.csv`)) {
    console.error(`*** REAL TRIALS SKIPPED: no dataset at ${folder} (set SLACKWATER_APNOEA_DATASET) ***`);
    return undefined;
  }
  const real: SessionScore[] = [];
  const realBeats: SessionScore[] = [];
  const rates: BreathingRates[] = [...breathingRates(folder)];
  for (const trial of apnoeaTrials(folder)) {
    real.push(scoreSession(trial, (cleaned) => holdsWithoutSubject(trial.name, cleaned)));
    const beats = (cleaned: readonly Sample[]): Sample[] =>
      cleaned.filter((s) => s.channel === 'rrIntervalMs');
    realBeats.push(scoreSession(trial, (cleaned) => holdsWithoutSubject(trial.name, beats(cleaned))));
  }
  return {
    reports: [
      report(
        'real holds of 10 and 20 s, neck pleth only, labels from airway pressure; each subject by a network not trained on them (live: trained on all)',
        real,
      ),
      report('the same real holds, afterwards from the beats in the pleth alone', realBeats),
    ],
    /** Neck pleth against breaths counted in the pressure at the mouth, over a minute. */
    breathingRates: summariseRates(rates),
  };
}

/** The two simulated corpora; `plot` is an SVG of them. */
export function scoreSimulators(seed: number, isQuick: boolean) {
  console.error('sketched athletes (SIMULATED)');
  const sketched = scoreAll(sketchedCorpus(seed, isQuick ? 1 : 14, isQuick ? quickRestHours : restHours));
  console.error('physiological athletes (SIMULATED)');
  const athletes = scoreAll(athleteCorpus(seed, isQuick ? 1 : 16, isQuick ? quickRestHours : restHours));
  return {
    plot: plot([...sketched, ...athletes]),
    sessions: sketched.length + athletes.length,
    /** Of true holds of 40 s and more; the simulators' ripples are mostly smaller than the heart's own unrest. */
    contractionEstimates: summariseContractions(contractions),
    reports: [
      report('physiological simulator (SIMULATED)', athletes),
      report('sketched simulator (SIMULATED)', sketched),
      report('both simulators (SIMULATED)', [...sketched, ...athletes]),
    ],
  };
}

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
    `<text x="20" y="310" font-size="13">F1 by condition (line: goal ${simulatorGoals.f1})</text>`,
    ...conditions.map(([name, s], i) => {
      const top = 320 + i * 16;
      return `<text x="20" y="${top + 10}">${name} (${s.trueHolds})</text><rect x="230" y="${top}" width="${(s.f1! * 500).toFixed(1)}" height="11" fill="#68a"/><text x="${240 + s.f1! * 500}" y="${top + 10}">${s.f1!.toFixed(2)}</text>`;
    }),
    `<line x1="${230 + simulatorGoals.f1 * 500}" x2="${230 + simulatorGoals.f1 * 500}" y1="318" y2="${height - 8}" stroke="black" stroke-dasharray="3"/>`,
    '</svg>',
  ];
  return `${parts.join('\n')}\n`;
}
