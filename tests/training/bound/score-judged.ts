// Scores what networks find in the sessions that draw-judged.ts wrote (SIMULATED), by the accuracy bench's own pairing, with a
// bootstrapped interval: by the product's rules, or by thresholds chosen on sessions kept apart, as the bound on any detector does.
// Run: score-judged.ts ROWS_FOLDER OUT.json NAME=WEIGHTS.ts|NAME=SCORES.bin...; weights by the rules and by thresholds, scores by these.

import { readFileSync, writeFileSync } from 'node:fs';
import { monotonicMs } from '../../../shared/units.ts';
import type { Boundary, Hold } from '../../../src/holds/hold.ts';
import { type CrfHold, crfPosteriorByRate, holdsOfPosterior } from '../../../src/holds/hold-crf.ts';
import { estimateHolds, type SmoothingNetworks } from '../../../src/holds/smoothing.ts';
import { boundaryMsBefore, committedNetworks, scoresOf } from '../../../src/holds/smoothing-network.ts';
import { pairUp } from '../../support/scoring/judge-session.ts';
import type { TrueHold } from '../../support/scoring/scored-session.ts';
import { createChance } from '../practice-chance.ts';
import { readNetwork, readSessions, type JudgedSession as Session } from './judged-sessions.ts';

/** Seeds from here on are for choosing thresholds. */
const firstChoosingSeed = 900;
const shortMs = 30_000;

interface Found {
  readonly startMs: number;
  readonly endMs: number;
  readonly logOdds: number;
}
const asHold = ({ startMs, endMs }: Found): Hold => {
  const boundary = (ms: number): Boundary => ({
    atMs: monotonicMs(Math.max(0, Math.round(ms))),
    uncertaintyMs: 0,
    declaredAtMs: monotonicMs(0),
    source: 'detected',
    evidence: [],
  });
  return { holdId: `${startMs}`, start: boundary(startMs), end: boundary(endMs), contractionsAtMs: [] };
};

/** Counts of one session: true holds of 30 s and more, of these found, found holds that name none. */
interface Tally {
  readonly truths: number;
  readonly right: number;
  readonly wrong: number;
}
interface Judged extends Tally {
  readonly session: Session;
  readonly missed: readonly string[];
  readonly false: readonly string[];
}

const lengthOf = ({ startMs, endMs }: TrueHold): number => endMs - startMs;
const spanText = (startMs: number, endMs: number): string =>
  `${Math.round(startMs / 1_000)}-${Math.round(endMs / 1_000)}`;

function judge(session: Session, found: readonly Found[]): Judged {
  const { pairs, left } = pairUp(session.holds, found.map(asHold));
  const paired = new Set(pairs.map(({ truth }) => truth));
  const long = session.holds.filter((truth) => lengthOf(truth) >= shortMs);
  return {
    session,
    truths: long.length,
    right: long.filter((truth) => paired.has(truth)).length,
    wrong: left.length,
    missed: long
      .filter((truth) => !paired.has(truth))
      .map((truth) => `${spanText(truth.startMs, truth.endMs)} ${truth.lungs}`),
    false: left.map((hold) => {
      const over = session.holds.filter(
        (truth) => truth.startMs < hold.end!.atMs && truth.endMs > hold.start.atMs,
      );
      const what = over.map((truth) => `${spanText(truth.startMs, truth.endMs)} ${truth.lungs}`).join('+');
      return `${spanText(hold.start.atMs, hold.end!.atMs)} over ${what || 'breathing'}`;
    }),
  };
}

const f1Of = (tallies: readonly Tally[]): number => {
  const sum = (of: (tally: Tally) => number): number => tallies.reduce((all, tally) => all + of(tally), 0);
  return (2 * sum((t) => t.right)) / (sum((t) => t.truths) + sum((t) => t.right) + sum((t) => t.wrong));
};
const rounded = (value: number): number => Math.round(1_000 * value) / 1_000;

/** F1 with the middle 90 % of what sessions drawn again from these would give. */
function summary(judged: readonly Judged[]) {
  const chance = createChance(1);
  const draws = Array.from({ length: 1_000 }, () =>
    f1Of(judged.map(() => judged[Math.floor(chance.between(0, judged.length))]!)),
  )
    .filter(Number.isFinite)
    .sort((a, b) => a - b);
  const at = (share: number): number => rounded(draws[Math.floor(share * draws.length)] ?? Number.NaN);
  const total = (of: (tally: Tally) => number): number => judged.reduce((all, tally) => all + of(tally), 0);
  return {
    f1: rounded(f1Of(judged)),
    middle90: [at(0.05), at(0.95)],
    truths: total((t) => t.truths),
    missed: total((t) => t.truths - t.right),
    false: total((t) => t.wrong),
  };
}

function summaries(judged: readonly Judged[]) {
  const out: Record<string, ReturnType<typeof summary>> = {};
  const add = (name: string, some: readonly Judged[]): void => {
    if (some.length > 0) out[name] = summary(some);
  };
  const unique = (of: (session: Session) => string | number) => [
    ...new Set(judged.map(({ session }) => of(session))),
  ];
  const hasBeats = ({ session }: Judged): boolean => session.sensors.startsWith('beats');
  for (const generator of unique((s) => s.generator)) {
    const its = judged.filter(({ session }) => session.generator === generator);
    for (const [name, some] of [
      ['with beats', its.filter(hasBeats)],
      ['without beats', its.filter((one) => !hasBeats(one))],
    ] as const) {
      add(`${generator}, ${name}`, some);
      for (const kind of unique((s) => s.kind))
        add(
          `${generator}, ${name}, ${kind}`,
          some.filter(({ session }) => session.kind === kind),
        );
      for (const seed of unique((s) => s.seed))
        add(
          `${generator}, ${name}, seed ${seed}`,
          some.filter(({ session }) => session.seed === seed),
        );
    }
    for (const sensors of unique((s) => s.sensors))
      add(
        `${generator}, ${sensors}`,
        its.filter(({ session }) => session.sensors === sensors),
      );
  }
  return out;
}

const inTime = (session: Session, holds: readonly CrfHold[]): Found[] =>
  holds
    .filter((hold) => hold.startSeen && hold.endSeen)
    .map(({ startRow, endRow, logOdds }) => ({
      startMs: boundaryMsBefore(session.rows, startRow),
      endMs: boundaryMsBefore(session.rows, endRow),
      logOdds,
    }));

/** What counts as found under 45 s and from there on, by log odds. */
type Thresholds = readonly [short: number, long: number];
const passing = (found: readonly Found[], [short, long]: Thresholds): Found[] =>
  found.filter((hold) => hold.logOdds >= (hold.endMs - hold.startMs < 45_000 ? short : long));

const steps = [-1, 0, 0.5, 1, 1.5, 2, 2.5, 3, 4, 5, 6, 8];
/** Of each generator and mix of sensors the thresholds that give the best F1 in the sessions for choosing. */
function byThresholds(sessions: readonly Session[], found: ReadonlyMap<Session, readonly Found[]>): Judged[] {
  const groups = new Map<string, Session[]>();
  for (const session of sessions) {
    const name = `${session.generator} ${session.sensors}`;
    groups.set(name, [...(groups.get(name) ?? []), session]);
  }
  return [...groups.values()].flatMap((group) => {
    const choosing = group.filter(({ seed }) => seed >= firstChoosingSeed);
    let best: Thresholds = [1, 1];
    let bestF1 = -1;
    for (const short of steps)
      for (const long of steps) {
        const f1 = f1Of(
          choosing.map((session) => judge(session, passing(found.get(session)!, [short, long]))),
        );
        if (f1 > bestF1) [best, bestF1] = [[short, long], f1];
      }
    return group
      .filter(({ seed }) => seed < firstChoosingSeed)
      .map((session) => judge(session, passing(found.get(session)!, best)));
  });
}

function networksOf(path: string): SmoothingNetworks {
  if (path === 'committed') return committedNetworks;
  return { smoothing: readNetwork(path), pleth: committedNetworks.pleth };
}

const [folder, out, ...asked] = process.argv.slice(2);
if (folder === undefined || out === undefined)
  throw new Error('usage: score-judged.ts ROWS_FOLDER OUT.json NAME=FILE...');
const sessions = readSessions(folder);
const judgedSessions = sessions.filter(({ seed }) => seed < firstChoosingSeed);
const results: Record<string, unknown> = {};
const errorsOf = (judged: readonly Judged[]) =>
  judged
    .filter((one) => one.missed.length + one.false.length > 0)
    .map(({ session, missed, false: wrong }) => ({
      session: `${session.generator} ${session.sessionSeed} ${session.kind}, ${session.sensors}`,
      missed,
      false: wrong,
    }));
const keep = (name: string, judged: readonly Judged[]): void => {
  const found = summaries(judged);
  results[name] = process.env['ERRORS'] === undefined ? { found } : { found, errors: errorsOf(judged) };
  for (const group of Object.keys(found).filter((g) => /beats$/.test(g)))
    console.log(name, group, JSON.stringify(found[group]));
};
for (const [name, path] of asked.map((text) => text.split('=') as [string, string])) {
  const scores = new Map<Session, Float32Array>();
  if (path.endsWith('.bin')) {
    const bytes = readFileSync(path);
    const all = new Float32Array(bytes.buffer, bytes.byteOffset, bytes.length / 4);
    let at = 0;
    for (const session of sessions) {
      scores.set(session, all.subarray(at, at + 3 * session.rows.length));
      at += 3 * session.rows.length;
    }
  } else {
    const networks = networksOf(path);
    keep(
      `${name} by the rules`,
      judgedSessions.map((session) =>
        judge(
          session,
          estimateHolds(session.rows, networks)
            .filter(({ proposed }) => !proposed)
            .map(({ start, end }) => ({ startMs: start.atMs, endMs: end.atMs, logOdds: 0 })),
        ),
      ),
    );
    if (sessions.length > judgedSessions.length)
      for (const session of sessions) scores.set(session, scoresOf(session.rows, networks));
  }
  if (scores.size === 0) continue;
  const found = new Map(
    [...scores].map(([session, three]) => [
      session,
      inTime(session, holdsOfPosterior(crfPosteriorByRate(three))),
    ]),
  );
  keep(`${name} by thresholds`, byThresholds(sessions, found));
}
writeFileSync(out, `${JSON.stringify(results, null, 1)}\n`);
