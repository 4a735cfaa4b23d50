// Scores the open 10 and 20 s holds with a neck pleth, each subject by the networks that have not met them.
// Run: npx tsx tests/training/score-trials.ts [DATASETS_FOLDER]

import { apnoeaTrials, holdsWithoutSubject } from '../support/corpus/apnoea-dataset.ts';
import { runLive, sameHold } from '../support/corpus/score.ts';

const folder = process.argv[2] ?? new URL('../../../shared/datasets', import.meta.url).pathname;
let trueCount = 0;
let matched = 0;
let falseCount = 0;
let falseStanding = 0;
for (const trial of apnoeaTrials(`${folder}/simulated-apnoea`)) {
  const found = holdsWithoutSubject(trial.name, runLive(trial.samples).cleaned);
  const hits = found.filter((hold) => trial.holds.some((truth) => sameHold(truth, hold)));
  trueCount += trial.holds.length;
  matched += hits.length;
  falseCount += found.length - hits.length;
  falseStanding += found.filter((hold) => !hits.includes(hold) && hold.proposed !== true).length;
}
const f1 = (2 * matched) / (trueCount + matched + falseCount);
console.log(
  `${trueCount} holds, found ${matched}, false ${falseCount} (${falseStanding} of them not proposals), F1 ${f1.toFixed(3)}`,
);
