// The accuracy bench's results as tables for a terminal, real people first.

import type { AccuracyResult } from './accuracy.bench.ts';
import type { scoreRealTrials, scoreSimulators } from './accuracy-simulators.ts';

type Print = (line: string) => void;
type Report = ReturnType<typeof scoreSimulators>['reports'][number];

const cell = (value: number | null | undefined, digits = 1, width = 7): string =>
  (value === null || value === undefined ? '-' : value.toFixed(digits)).padStart(width);

function printRealPeople(real: NonNullable<AccuracyResult['realPeople']>, print: Print): void {
  print(
    'REAL PEOPLE WHO BREATHE THROUGHOUT: false holds per 20 h; needless forecast and false floor alarms per 10 h',
  );
  print(
    `  ${'set | sensors'.padEnd(52)}${'hours'.padStart(7)}${'after'.padStart(8)}${'live'.padStart(8)}${'propos.'.padStart(8)}${'forec.'.padStart(8)}${'floor'.padStart(8)}  low stretches missed`,
  );
  for (const [name, s] of Object.entries(real.bySetAndSensors))
    print(
      `  ${name.replace('in: ', '').padEnd(52)}${cell(s.hours)}${cell(s.afterwardsPer20h, 1, 8)}${cell(s.liveEverPer20h, 1, 8)}${cell(s.falseProposalsPer20h, 1, 8)}${cell(s.needlessForecastPer10h, 1, 8)}${cell(s.falseFloorPer10h, 1, 8)}  ${s.missedLowStretches} of ${s.lowStretches}`,
    );
  for (const set of real.skipped) print(`  *** SKIPPED: ${set} ***`);
}

function printOldReport({ title, all, allButShort, restAndWalking }: Report, print: Print): void {
  print(title);
  for (const [name, s] of [
    ['all', all],
    ['all but very short', allButShort],
  ] as const)
    print(
      `  ${name.padEnd(20)} F1 ${s.f1} (P ${s.precision} R ${s.recall})  start |e| ${s.start.medianS}/${s.start.p90S} s bias ${s.start.biasS} within ${s.start.within}` +
        `  end |e| ${s.end.medianS}/${s.end.p90S} s bias ${s.end.biasS} within ${s.end.within}` +
        `  live: found ${s.liveRecall} start ${s.liveStartDelay.medianS}/${s.liveStartDelay.p90S} s end ${s.liveEndDelay.medianS}/${s.liveEndDelay.p90S} s`,
    );
  if (restAndWalking.per20h !== null)
    print(
      `  rest and walking     ${restAndWalking.hours} h, false holds per 20 h ${restAndWalking.per20h} (live ${restAndWalking.livePer20h})`,
    );
}

function printTrials(trials: NonNullable<ReturnType<typeof scoreRealTrials>>, print: Print): void {
  for (const report of trials.reports) printOldReport(report, print);
  const r = trials.breathingRates;
  print(
    `breathing rate, real people (neck pleth): said for ${r.estimated} of ${r.photodiodes} photodiodes, median error ${r.medianErrorPerMin} /min, within 2 /min ${r.within2PerMin}`,
  );
}

type Foreign = NonNullable<AccuracyResult['foreign']>[number];

type Summary = NonNullable<Foreign['found']>['all'];

function printFound(found: NonNullable<Foreign['found']>, print: Print): void {
  printSummaries(
    [
      ['all', found.all],
      ['with beats', found.withBeats],
      ['without beats', found.withoutBeats],
      ...Object.entries(found.byCondition),
    ],
    print,
  );
  for (const bin of found.all.reliability)
    print(
      `  stated ${bin.from.toFixed(1)} to ${bin.to.toFixed(1)}: mean ${bin.meanStated.toFixed(2)}, true ${bin.observed.toFixed(2)} of ${bin.count}`,
    );
}

function printSummaries(summaries: readonly (readonly [string, Summary])[], print: Print): void {
  print(
    `  ${'holds found'.padEnd(38)}${'F1'.padStart(7)}${'>=30 s'.padStart(8)}${'start'.padStart(7)}${'p90'.padStart(7)}${'end'.padStart(7)}${'p90'.padStart(7)}  within   whole/pieces/part/missed  false  live R  delays start end`,
  );
  for (const [name, s] of summaries)
    print(
      `  ${name.padEnd(38)}${cell(s.all.f1, 3)}${cell(s.of30sAndMore.f1, 3, 8)}${cell(s.start.median)}${cell(s.start.p90)}${cell(s.end.median)}${cell(s.end.p90)}` +
        `  ${cell(s.start.withinStated, 2, 4)}/${cell(s.end.withinStated, 2, 4)}  ${Object.values(s.found).join('/').padEnd(22)} ${s.falseHolds.afterwards} in ${s.hours.toFixed(1)} h (live ${s.falseHolds.liveStood}, proposed ${s.trueProposals} true ${s.falseHolds.falseProposals} false)` +
        `  ${cell(s.live.recall, 2, 5)}${cell(s.live.startDelayS.median, 0, 5)}${cell(s.live.endDelayS.median, 0, 5)}`,
    );
}

function printObeying(obeying: NonNullable<Foreign['obeying']>, print: Print): void {
  for (const [starts, by] of Object.entries(obeying))
    for (const [name, s] of [
      ...(['full', 'half', 'emptied', 'all'] as const).map((lungs) => [lungs, by[lungs]] as const),
      ...Object.entries(by.bySensors),
    ])
      print(
        `  obeying, ${starts}, ${name.padEnd(26)} ${String(s.holds).padStart(4)} holds: keep the floor ${cell(s.keptFloor, 3, 5)}, given up ${cell(s.givenUpS.median, 1, 5)} s (p90 ${cell(s.givenUpS.p90, 1, 5)}), margin of all ${cell(s.medianMarginS, 1, 5)} s; no forecast alarm ${cell(s.keptFloor === null ? null : 1 - s.stoppedByForecast!, 2, 4)}; 80 % interval holds ${cell(s.interval80.inside, 2, 4)} of ${s.interval80.holds}, in the last 30 s ${cell(s.interval80InLast30s.inside, 2, 4)} of ${s.interval80InLast30s.seconds}`,
      );
}

export function printReport(result: AccuracyResult, print: Print): void {
  if (result.quick) print('QUICK: parts of everything; not to be quoted');
  if (result.realPeople !== undefined) printRealPeople(result.realPeople, print);
  if (result.realTrials !== undefined) printTrials(result.realTrials, print);
  if (result.labelledExtracts !== undefined) {
    print('LABELLED EXTRACTS that people gave');
    printSummaries(
      [['all', result.labelledExtracts.all], ...Object.entries(result.labelledExtracts.byCondition)],
      print,
    );
  }
  if (result.simulators !== undefined) {
    for (const report of result.simulators.reports) printOldReport(report, print);
    const c = result.simulators.contractionEstimates;
    print(
      `contraction estimates: ${c.estimated} of ${c.holdsWith} holds with contractions (median error ${c.medianErrorS} s), ${c.wronglyEstimated} of ${c.holdsWithout} without`,
    );
  }
  for (const { generator, found, obeying } of result.foreign ?? []) {
    print(`FOREIGN GENERATOR ${generator}`);
    if (found !== undefined) printFound(found, print);
    if (obeying !== undefined) printObeying(obeying, print);
  }
}
