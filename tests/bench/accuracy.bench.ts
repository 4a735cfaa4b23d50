// How well holds are found and falls foreseen, real people first: false holds and needless alarms in people who breathe,
// real holds, labelled extracts people gave, then simulators (SIMULATED), those beside the detector and foreign ones.
// Run: npm run bench:accuracy [-- --quick] [-- --only real,trials,extracts,simulators,foreign,obey] [-- --seed N]
// A full run writes tests/bench/accuracy-results.json, parts of one with --merge; any run writes artefacts/accuracy.json.

import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { judgeSession, type Verdict } from '../support/scoring/judge-session.ts';
import { labelledExtracts } from '../support/scoring/labelled-extracts.ts';
import { realPeople } from '../support/scoring/real-people.ts';
import {
  splitByCondition,
  summariseFalseAlarms,
  summariseFalseHolds,
  summariseVerdicts,
} from '../support/scoring/summarise-verdicts.ts';
import { foreignGenerators, scoreForeign, scoreObedience } from './accuracy-foreign.ts';
import { scoreRealTrials, scoreSimulators, simulatorGoals } from './accuracy-simulators.ts';
import { printReport } from './print-accuracy.ts';

const root = new URL('../../', import.meta.url).pathname;
const { values } = parseArgs({
  options: {
    quick: { type: 'boolean', default: false },
    only: { type: 'string' },
    /** Puts the parts run into the kept results beside the others: for one and the same code only. */
    merge: { type: 'boolean', default: false },
    seed: { type: 'string', default: process.env['ACCURACY_SEED'] ?? '1' },
  },
});
const isQuick = values.quick;
const seed = Number(values.seed);
const parts = new Set(
  values.only?.split(',') ?? ['real', 'trials', 'extracts', 'simulators', 'foreign', 'obey'],
);
const datasets = process.env['SLACKWATER_DATASETS'] ?? `${root}../shared/datasets`;
const trialsFolder = process.env['SLACKWATER_APNOEA_DATASET'] ?? `${datasets}/simulated-apnoea`;

const extractsFolder = process.env['SLACKWATER_EXTRACTS'] ?? `${root}../shared/labelled-extracts`;

const goals = {
  ...simulatorGoals,
  /** Real people who breathe. */
  falseHoldsPer20hWithBeats: 2,
  falseHoldsPer20hWithoutBeats: 4,
  needlessForecastPer10h: 1,
  reliabilityOffDiagonal: 0.1,
  /** Foreign generators, holds of 30 s and more. */
  foreignF1WithBeats: 0.95,
  foreignF1WithoutBeats: 0.85,
  foreignMedianBoundaryErrorS: 2,
  keepFloorShare: 0.95,
  medianGivenUpS: 8,
  realTrialsF1: 0.675,
};

function scoreRealPeople() {
  console.error('real people who breathe throughout');
  const verdicts: Verdict[] = [];
  const skipped: string[] = [];
  for (const session of realPeople({
    folder: datasets,
    ...(isQuick && { untilMs: 600_000 }),
    onSkipped(what) {
      skipped.push(what.split('/').at(-1)!);
      console.error(`*** REAL RECORDINGS SKIPPED: none at ${what} (set SLACKWATER_DATASETS) ***`);
    },
  })) {
    verdicts.push(judgeSession(session));
    if (verdicts.length % 50 === 0) console.error(`  ${verdicts.length} recordings and views of them`);
  }
  const bySetAndSensors = splitByCondition(
    verdicts.map((v) => ({
      ...v,
      conditions: { in: `${v.conditions['set']} | ${v.conditions['sensors']}` },
    })),
    (some) => ({ ...summariseFalseHolds(some), ...summariseFalseAlarms(some) }),
  );
  return { skipped, bySetAndSensors };
}

/** Undefined, loudly, where nobody has given any. */
function scoreExtracts() {
  const verdicts: Verdict[] = [];
  const refused: string[] = [];
  for (const { session, everyHoldIsMarked } of labelledExtracts(extractsFolder, (file, why) => {
    refused.push(`${file}: ${why}`);
    console.error(`*** EXTRACT REFUSED: ${file}: ${why} ***`);
  })) {
    const verdict = judgeSession(session);
    verdicts.push(
      everyHoldIsMarked ? verdict : { ...verdict, unmatched: [], liveEverFalse: 0, liveStoodFalse: 0 },
    );
  }
  if (verdicts.length === 0) {
    console.error(`*** LABELLED EXTRACTS SKIPPED: none at ${extractsFolder} (set SLACKWATER_EXTRACTS) ***`);
    return undefined;
  }
  return {
    refused,
    all: summariseVerdicts(verdicts),
    byCondition: splitByCondition(verdicts, summariseVerdicts),
  };
}

const began = performance.now();
const real = parts.has('real') ? scoreRealPeople() : undefined;
if (parts.has('trials')) console.error('real holds of 10 to 20 s');
const trials = parts.has('trials') ? scoreRealTrials(trialsFolder) : undefined;
const extracts = parts.has('extracts') ? scoreExtracts() : undefined;
const simulators = parts.has('simulators') ? scoreSimulators(seed, isQuick) : undefined;
const asksForeign = parts.has('foreign') || parts.has('obey');
const foreign = (asksForeign ? foreignGenerators : []).map(({ name, factory }) => {
  console.error(`foreign generator: ${name} (SIMULATED)`);
  return {
    generator: `${name} (SIMULATED)`,
    ...(parts.has('foreign') && { found: scoreForeign(factory, name, seed, isQuick ? 1 : 2) }),
    ...(parts.has('obey') && { obeying: scoreObedience(factory, seed, isQuick ? 4 : 12) }),
  };
});

const result = {
  seed,
  quick: isQuick,
  goals,
  ...(real !== undefined && { realPeople: real }),
  ...(trials !== undefined && { realTrials: trials }),
  ...(extracts !== undefined && { labelledExtracts: extracts }),
  ...(simulators !== undefined && { simulators: { ...simulators, plot: 'artefacts/accuracy.svg' } }),
  ...(asksForeign && { foreign }),
};
export type AccuracyResult = typeof result;
const rounded = JSON.parse(
  JSON.stringify(result, (_, value) =>
    typeof value === 'number' ? Math.round(value * 1_000) / 1_000 : value,
  ),
) as AccuracyResult;
mkdirSync(`${root}artefacts`, { recursive: true });
writeFileSync(`${root}artefacts/accuracy.json`, `${JSON.stringify(rounded, null, 2)}\n`);
if (simulators !== undefined) writeFileSync(`${root}artefacts/accuracy.svg`, simulators.plot);
const keptPath = `${root}tests/bench/accuracy-results.json`;
if (!isQuick && (values.only === undefined || values.merge)) {
  const kept = (values.merge ? JSON.parse(readFileSync(keptPath, 'utf8')) : {}) as Partial<AccuracyResult>;
  const merged = {
    ...kept,
    ...rounded,
    // What was found and what became of those who obey can be run apart.
    ...(rounded.foreign !== undefined && {
      foreign: rounded.foreign.map((each, index) => ({ ...kept.foreign?.[index], ...each })),
    }),
  };
  writeFileSync(keptPath, `${JSON.stringify(merged, null, 1)}\n`);
}
printReport(rounded, (line) => console.log(line));
console.log(`took ${((performance.now() - began) / 1_000).toFixed(0)} s`);
