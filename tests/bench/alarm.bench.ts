// How well the alarms do: the floor alarm on real people first, then floor alarm, forecast and stopping on the
// independent simulator, beside simpler rules.
// Prints each figure with its goal, writes tests/bench/alarm-results.json and a plot into artefacts/.

import { mkdirSync, writeFileSync } from 'node:fs';
import { performance } from 'node:perf_hooks';
import { fileURLToPath } from 'node:url';
import type { StoppedHold } from '../../hub/sensors/simulated/athlete.ts';
import { monotonicMs, percent } from '../../shared/units.ts';
import type { AthleteSettings } from '../../shared/views.ts';
import { createForecaster } from '../../src/oxygen/forecaster.ts';
import { createPipeline } from '../../src/pipeline.ts';
import {
  type CorpusSession,
  deepHolds,
  eventfulHour,
  eventsOf,
  troubledHolds,
} from '../support/alarm-corpus/alarm-corpus.ts';
import { benchPeople, type PeopleFigures } from './alarm-people.ts';

const floorPercent = 88;
/** A person needs so long from the alarm to the first breath. Our choice. */
const reactionMs = 2_000;
/** A crossing is sustained if the noise-free display stays below the floor so long. Our choice. */
const sustainedMs = 10_000;
/** A floor alarm is false if the noise-free display kept this far above the floor for 20 s about it. Our choice: noise and rounding. */
const clearPercent = 1;
/** The rule of thumb this project replaces: mean lag 25 s (reference 3.27), slope over 15 s. */
const straightLineLagS = 25;

const settings: AthleteSettings = {
  floorSpo2Percent: percent(floorPercent),
  thresholdsPercent: [],
  heartRateLowBpm: null,
  heartRateHighBpm: null,
  maxHoldDurationMs: null,
  forecastAlarm: 'high',
};

interface ForecastAt {
  readonly atMs: number;
  readonly percent: number;
  readonly low: number;
  readonly high: number;
}

interface Run {
  /** Rising edges of the alarms by kind. */
  readonly floorAlarmsMs: readonly number[];
  readonly forecastAlarmsMs: readonly number[];
  readonly otherHighOrMedium: number;
  readonly forecasts: readonly ForecastAt[];
}

/** One session through the pipeline; alarms are acknowledged 20 s after their beginning, so that new ones show. */
function run(session: CorpusSession, marks: boolean): Run {
  const pipeline = createPipeline(settings);
  const floorAlarmsMs: number[] = [];
  const forecastAlarmsMs: number[] = [];
  const forecasts: ForecastAt[] = [];
  let otherHighOrMedium = 0;
  let present = new Set<string>();
  /** Those that called: present, and not only at low priority. */
  let calling = new Set<string>();
  let acknowledgeAtMs = Number.POSITIVE_INFINITY;
  const take = (outputs: ReturnType<typeof pipeline.push>): void => {
    for (const output of outputs) {
      if (output.type === 'forecast' && output.forecast.known) {
        const { percent: middle, central } = output.forecast.lowestIfStoppedNow;
        const { lowPercent, highPercent } = central;
        forecasts.push({ atMs: output.atMs, percent: middle, low: lowPercent, high: highPercent });
      }
      if (output.type !== 'alarms') continue;
      const now = new Set<string>();
      const callingNow = new Set<string>();
      for (const alarm of output.alarms) {
        if (!alarm.conditionPresent) continue;
        now.add(alarm.alarmId);
        if (alarm.priority !== 'low') callingNow.add(alarm.alarmId);
        const isOther = alarm.kind !== 'floorBreached' && alarm.kind !== 'floorForecast';
        if (isOther && alarm.priority !== 'low' && !calling.has(alarm.alarmId)) otherHighOrMedium++;
        if (present.has(alarm.alarmId)) continue;
        if (alarm.kind === 'floorBreached') floorAlarmsMs.push(output.atMs);
        else if (alarm.kind === 'floorForecast') forecastAlarmsMs.push(output.atMs);
        acknowledgeAtMs = Math.min(acknowledgeAtMs, output.atMs + 20_000);
      }
      present = now;
      calling = callingNow;
    }
  };
  let nowMs = 0;
  for (const event of eventsOf(session.simulated, marks)) {
    nowMs = event.type === 'mark' ? event.mark.atMs : event.type === 'packet' ? event.atMs : nowMs;
    if (nowMs >= acknowledgeAtMs) {
      acknowledgeAtMs = Number.POSITIVE_INFINITY;
      take(pipeline.push({ type: 'acknowledge', atMs: monotonicMs(nowMs) }));
    }
    take(pipeline.push(event));
  }
  return { floorAlarmsMs, forecastAlarmsMs, otherHighOrMedium, forecasts };
}

// ---- The floor alarm -------------------------------------------------------------------------------------------

interface FloorTally {
  crossings: number;
  alarmed: number;
  readonly delaysMs: number[];
  falseAlarms: number;
  hours: number;
  alarms: number;
  technical: number;
  /** Forecast alarms after which the display stayed 3 points above the floor for a minute though nobody stopped for them. */
  needlessForecasts: number;
}

function fingerAt(session: CorpusSession, atMs: number): number {
  const { fromMs, everyMs, values } = session.simulated.truth.fingerSpo2Percent;
  const index = Math.round((atMs - fromMs) / everyMs);
  return values[Math.min(values.length - 1, Math.max(0, index))]!;
}

/** True crossings: the noise-free display falls below the floor and stays there. */
function crossingsOf(session: CorpusSession): { readonly fromMs: number; readonly toMs: number }[] {
  const { fromMs, everyMs, values } = session.simulated.truth.fingerSpo2Percent;
  const spans: { fromMs: number; toMs: number }[] = [];
  let since: number | undefined;
  values.forEach((value, index) => {
    const atMs = fromMs + index * everyMs;
    if (value < floorPercent) since ??= atMs;
    else if (since !== undefined) {
      if (atMs - since >= sustainedMs) spans.push({ fromMs: since, toMs: atMs });
      since = undefined;
    }
  });
  return spans;
}

function tallyFloor(session: CorpusSession, result: Run, tally: FloorTally): void {
  tally.hours += session.simulated.durationMs / 3_600_000;
  tally.alarms += result.floorAlarmsMs.length;
  tally.technical += result.otherHighOrMedium;
  for (const { fromMs, toMs } of crossingsOf(session)) {
    // The reading that makes it so: the first one delivered that says it, once it is true.
    const reading = session.simulated.oximetry.find(
      ({ atMs, spo2Percent }) =>
        atMs >= fromMs && atMs <= toMs && spo2Percent !== undefined && spo2Percent < floorPercent,
    );
    // The display was below the floor but no reading ever said so (dropout): no reading, no reading alarm.
    if (reading === undefined) continue;
    tally.crossings++;
    const alarm = result.floorAlarmsMs.find((atMs) => atMs >= fromMs - 30_000 && atMs <= toMs + 5_000);
    if (alarm === undefined) continue;
    tally.alarmed++;
    tally.delaysMs.push(Math.max(0, alarm - reading.atMs));
  }
  for (const atMs of result.forecastAlarmsMs) {
    let least = 100;
    for (let ms = atMs; ms <= atMs + 60_000; ms += 1_000) least = Math.min(least, fingerAt(session, ms));
    if (least >= floorPercent + 3) tally.needlessForecasts++;
  }
  for (const atMs of result.floorAlarmsMs) {
    let clear = true;
    for (let ms = atMs - 20_000; ms <= atMs + 2_000; ms += 1_000)
      if (fingerAt(session, ms) < floorPercent + clearPercent) clear = false;
    if (clear) tally.falseAlarms++;
  }
}

// ---- Stopping ---------------------------------------------------------------------------------------------------

interface StopTally {
  holds: number;
  stayedAbove: number;
  /** Seconds of hold given up against a perfect forecaster; negative where it stopped too late. */
  readonly givenUpS: number[];
  readonly lowest: number[];
}

const emptyStops = (): StopTally => ({ holds: 0, stayedAbove: 0, givenUpS: [], lowest: [] });

function tallyStop(tally: StopTally, ifStopped: readonly StoppedHold[], stopAtMs: number | undefined): void {
  const last = ifStopped[ifStopped.length - 1]!;
  const stopMs = Math.min(last.atMs, stopAtMs === undefined ? last.atMs : stopAtMs + reactionMs);
  const stopped = ifStopped.find(({ atMs }) => atMs >= stopMs) ?? last;
  let perfectMs = ifStopped[0]!.atMs;
  for (const { atMs, lowestFingerPercent } of ifStopped) {
    if (lowestFingerPercent < floorPercent) break;
    perfectMs = atMs;
  }
  tally.holds++;
  if (stopped.lowestFingerPercent >= floorPercent) tally.stayedAbove++;
  tally.givenUpS.push((perfectMs - stopped.atMs) / 1000);
  tally.lowest.push(stopped.lowestFingerPercent);
}

/** When `SpO2 + slope x lag` first reaches the floor: least squares over the last 15 s of usable readings. */
function straightLineStop(session: CorpusSession, startMs: number, endMs: number): number | undefined {
  const readings = session.simulated.oximetry.filter(
    ({ atMs, spo2Percent, poorSignal }) =>
      atMs >= startMs && atMs <= endMs && spo2Percent !== undefined && !poorSignal,
  );
  for (const { atMs } of readings) {
    if (atMs < startMs + 30_000) continue;
    const window = readings.filter((other) => other.atMs <= atMs && other.atMs > atMs - 15_000);
    if (window.length < 8) continue;
    const meanT = mean(window.map((one) => one.atMs / 1000));
    const meanY = mean(window.map((one) => one.spo2Percent!));
    let top = 0;
    let bottom = 0;
    for (const one of window) {
      top += (one.atMs / 1000 - meanT) * (one.spo2Percent! - meanY);
      bottom += (one.atMs / 1000 - meanT) ** 2;
    }
    const slope = Math.min(0, top / bottom);
    const now = meanY + slope * (atMs / 1000 - meanT);
    if (now + slope * straightLineLagS <= floorPercent) return atMs;
  }
  return undefined;
}

interface ForecastTally {
  readonly errors: number[];
  inside: number;
  /** Share of the hold's last minute before the perfect stop for which a forecast was known. */
  readonly knownShares: number[];
  readonly stops: StopTally;
}

const emptyForecast = (): ForecastTally => ({ errors: [], inside: 0, knownShares: [], stops: emptyStops() });

function tallyForecast(
  tally: ForecastTally,
  result: Run,
  startMs: number,
  endMs: number,
  ifStopped: readonly StoppedHold[],
): void {
  for (const { atMs, percent: middle, low, high } of result.forecasts) {
    if (atMs < startMs || atMs > endMs) continue;
    const truth = ifStopped.find((one) => one.atMs >= atMs - 500);
    if (truth === undefined) continue;
    tally.errors.push(middle - truth.lowestFingerPercent);
    if (truth.lowestFingerPercent >= low && truth.lowestFingerPercent <= high) tally.inside++;
  }
  const alarm = [...result.forecastAlarmsMs, ...result.floorAlarmsMs]
    .filter((atMs) => atMs >= startMs && atMs <= endMs)
    .sort((one, other) => one - other)[0];
  tallyStop(tally.stops, ifStopped, alarm);
}

// ---- Running ----------------------------------------------------------------------------------------------------

interface BenchOptions {
  readonly deepSessions: number;
  readonly troubledSessions: number;
  readonly eventfulSessions: number;
}

export interface Figure {
  readonly name: string;
  readonly value: number;
  readonly unit: string;
  readonly goal: string;
  readonly met: boolean | null;
}

/** Runs the whole bench (some minutes) and answers its figures. */
export function benchAlarm(
  options: BenchOptions = { deepSessions: 24, troubledSessions: 16, eventfulSessions: 16 },
): { readonly figures: readonly Figure[]; readonly plot: string } {
  const floor: FloorTally = {
    crossings: 0,
    alarmed: 0,
    delaysMs: [],
    falseAlarms: 0,
    hours: 0,
    alarms: 0,
    technical: 0,
    needlessForecasts: 0,
  };
  const marked = emptyForecast();
  const detected = emptyForecast();
  // What is learnt of a person from one hold to the next shows in the difference.
  const markedFirst = emptyForecast();
  const markedLater = emptyForecast();
  const plain = emptyStops();
  const straight = emptyStops();
  const costs: number[] = [];

  for (let index = 0; index < options.deepSessions; index++) {
    const session = deepHolds(1_000 + index, floorPercent);
    const withMarks = run(session, true);
    const withDetector = run(session, false);
    tallyFloor(session, withDetector, floor);
    session.simulated.truth.holds.forEach((hold, holdIndex) => {
      // Only holds that would cross the floor need stopping.
      if (hold.lowestFingerPercent >= floorPercent) return;
      const ifStopped = session.simulated.lowestIfBreathingBegan(holdIndex, 1_000);
      if (ifStopped.length === 0) return;
      tallyForecast(marked, withMarks, hold.startMs, hold.endMs, ifStopped);
      const byOrder = holdIndex === 0 ? markedFirst : markedLater;
      tallyForecast(byOrder, withMarks, hold.startMs, hold.endMs, ifStopped);
      tallyForecast(detected, withDetector, hold.startMs, hold.endMs, ifStopped);
      const floorAlarm = withMarks.floorAlarmsMs.find(
        (atMs) => atMs >= hold.startMs && atMs <= hold.endMs + 60_000,
      );
      tallyStop(plain, ifStopped, floorAlarm);
      tallyStop(straight, ifStopped, straightLineStop(session, hold.startMs, hold.endMs));
    });
    if (index < 4) measureCost(session, costs);
    process.stderr.write(`deep ${index + 1}/${options.deepSessions}\r`);
  }
  for (let index = 0; index < options.troubledSessions; index++) {
    const session = troubledHolds(2_000 + index, floorPercent);
    tallyFloor(session, run(session, false), floor);
    process.stderr.write(`troubled ${index + 1}/${options.troubledSessions}\r`);
  }
  for (let index = 0; index < options.eventfulSessions; index++) {
    const session = eventfulHour(3_000 + index);
    tallyFloor(session, run(session, false), floor);
    process.stderr.write(`eventful ${index + 1}/${options.eventfulSessions}\r`);
  }

  const figures: Figure[] = [];
  const add = (name: string, value: number, unit: string, goal = '', met: boolean | null = null): void => {
    figures.push({ name, value: Math.round(value * 1000) / 1000, unit, goal, met });
  };
  const sensitivity = floor.alarmed / floor.crossings;
  const within3s = floor.delaysMs.filter((ms) => ms <= 3_000).length / floor.crossings;
  const worst = Math.max(...floor.delaysMs) / 1000;
  const falsePer10h = (10 * floor.falseAlarms) / floor.hours;
  add('corpus', floor.hours, 'h');
  add('true sustained crossings', floor.crossings, '');
  add('floor alarm: sensitivity', 100 * sensitivity, '%', '100', sensitivity === 1);
  add('floor alarm: within 3 s of the reading', 100 * within3s, '%', '100', within3s === 1);
  add('floor alarm: median delay', quantile(floor.delaysMs, 0.5) / 1000, 's');
  add('floor alarm: worst delay', worst, 's', '<= 3', worst <= 3);
  add('floor alarm: false per 10 h', falsePer10h, '', '<= 0.5', falsePer10h <= 0.5);
  add('forecast alarm: needless per 10 h', (10 * floor.needlessForecasts) / floor.hours, '');
  add('other medium or high alarms per 10 h', (10 * floor.technical) / floor.hours, '');
  for (const [name, tally] of [
    ['marked', marked],
    ['detected', detected],
  ] as const) {
    const mae = mean(tally.errors.map(Math.abs));
    const share = tally.stops.stayedAbove / tally.stops.holds;
    const given = quantile(tally.stops.givenUpS, 0.5);
    add(`${name}: holds that would cross the floor`, tally.stops.holds, '');
    add(`${name}: stop at forecast, lowest at or above floor`, 100 * share, '%', '>= 95', share >= 0.95);
    add(`${name}: seconds given up, median`, given, 's', '<= 8', given <= 8);
    add(`${name}: seconds given up, 90th percentile`, quantile(tally.stops.givenUpS, 0.9), 's');
    add(`${name}: lowest reading, mean absolute error`, mae, 'points', '<= 2', mae <= 2);
    add(`${name}: lowest reading, mean error`, mean(tally.errors), 'points');
    const coverage = (100 * tally.inside) / tally.errors.length;
    add(
      `${name}: 80 % interval holds the truth`,
      coverage,
      '%',
      '75 to 90',
      coverage >= 75 && coverage <= 90,
    );
  }
  for (const [name, { stops }] of [
    ['marked, first hold of a session', markedFirst],
    ['marked, later holds', markedLater],
  ] as const) {
    add(`${name}: holds`, stops.holds, '');
    add(`${name}: lowest at or above floor`, (100 * stops.stayedAbove) / stops.holds, '%');
    add(`${name}: seconds given up, median`, quantile(stops.givenUpS, 0.5), 's');
  }
  for (const [name, stops] of [
    ['plain floor alarm', plain],
    ['SpO2 + slope x 25 s', straight],
  ] as const) {
    add(`${name}: lowest at or above floor`, (100 * stops.stayedAbove) / stops.holds, '%');
    add(`${name}: seconds given up, median`, quantile(stops.givenUpS, 0.5), 's');
  }
  add('forecast update, mean', mean(costs), 'ms', '<= 2', mean(costs) <= 2);
  add('forecast update, 99th percentile', quantile(costs, 0.99), 'ms');
  return {
    figures,
    plot: plotOf([
      { name: 'forecast alarm, holds marked', values: marked.stops.lowest },
      { name: 'forecast alarm, holds detected', values: detected.stops.lowest },
      { name: 'SpO2 + slope x 25 s', values: straight.lowest },
      { name: 'plain floor alarm', values: plain.lowest },
    ]),
  };
}

/** Real people who breathe throughout, a set and a floor. */
function peopleFigures(row: PeopleFigures): Figure[] {
  if (row.recordings === 0) return [];
  const name = `real ${row.set}, floor ${row.floorPercent}`;
  const per10h = Math.round((100 * row.notBorneOut) / row.hours) / 10;
  return [
    { name: `${name}: hours`, value: row.hours, unit: 'h', goal: '', met: null },
    { name: `${name}: 3 s below the floor`, value: row.crossings, unit: '', goal: '', met: null },
    {
      name: `${name}: of these without a high alarm`,
      value: row.missed,
      unit: '',
      goal: '0',
      met: row.missed === 0,
    },
    { name: `${name}: floor alarms`, value: row.alarms, unit: '', goal: '', met: null },
    { name: `${name}: not borne out, per 10 h`, value: per10h, unit: '', goal: '<= 0.5', met: per10h <= 0.5 },
  ];
}

/** Cost of one forecast update on this machine, in ms, over a session's readings. */
function measureCost(session: CorpusSession, costs: number[]): void {
  const forecaster = createForecaster({ floorSpo2Percent: floorPercent });
  const holds = [...session.simulated.truth.holds];
  for (const { atMs, spo2Percent } of session.simulated.oximetry) {
    if (spo2Percent === undefined) continue;
    while (holds[0] !== undefined && holds[0].startMs <= atMs) {
      const hold = holds[0];
      if (hold.endMs > atMs) {
        forecaster.push({ type: 'holdStarted', atMs, start: { atMs: hold.startMs, uncertaintyMs: 0 } });
      } else forecaster.push({ type: 'holdEnded', atMs, endedAtMs: hold.endMs });
      if (hold.endMs > atMs) break;
      holds.shift();
    }
    const from = performance.now();
    forecaster.push({ type: 'spo2', atMs, spo2Percent, quality: 'good' });
    costs.push(performance.now() - from);
  }
}

/** Dots of the lowest reading of every hold, one row a rule, with the floor as a line. */
function plotOf(rows: readonly { readonly name: string; readonly values: readonly number[] }[]): string {
  const width = 760;
  const rowHeight = 84;
  const left = 220;
  const x = (value: number): number => left + ((value - 78) / (98 - 78)) * (width - left - 20);
  const lines = rows.flatMap(({ name, values }, row) => {
    const y = 40 + row * rowHeight;
    const above = values.filter((value) => value >= floorPercent).length;
    return [
      `<text x="10" y="${y + 24}">${name}</text>`,
      `<text x="10" y="${y + 42}" fill="#555">${above} of ${values.length} at or above</text>`,
      ...values.map((value, index) => {
        const clamped = Math.max(78, Math.min(98, value));
        const colour = value >= floorPercent ? '#2a6f97' : '#b3261e';
        return `<circle cx="${x(clamped).toFixed(1)}" cy="${(y + 6 + ((index * 37) % 58)).toFixed(1)}" r="2.5" fill="${colour}"/>`;
      }),
    ];
  });
  const height = 60 + rows.length * rowHeight;
  const ticks = [80, 84, 88, 92, 96].map(
    (value) => `<text x="${x(value)}" y="${height - 6}" text-anchor="middle" fill="#555">${value} %</text>`,
  );
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}" font-family="sans-serif" font-size="13">`,
    `<rect width="${width}" height="${height}" fill="white"/>`,
    `<text x="10" y="20">SIMULATED: lowest reading of each hold if stopped 2 s after each rule speaks; floor ${floorPercent} %</text>`,
    `<line x1="${x(floorPercent)}" x2="${x(floorPercent)}" y1="30" y2="${height - 22}" stroke="#b3261e"/>`,
    ...lines,
    ...ticks,
    '</svg>',
  ].join('\n');
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

function quantile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((one, other) => one - other);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? Number.NaN;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const scale = process.argv.includes('--short') ? 0.25 : 1;
  // Beside this repository's folder unless said otherwise.
  const people = benchPeople(
    process.env['SLACKWATER_DATASETS'] ?? fileURLToPath(new URL('../../../shared/datasets', import.meta.url)),
  ).flatMap(peopleFigures);
  const { figures: simulated, plot } = benchAlarm({
    deepSessions: Math.round(24 * scale),
    troubledSessions: Math.round(16 * scale),
    eventfulSessions: Math.round(16 * scale),
  });
  const figures = [...people, ...simulated];
  for (const { name, value, unit, goal, met } of figures) {
    const verdict = met === null ? '' : met ? `goal ${goal}: met` : `goal ${goal}: NOT met`;
    console.log(`${name.padEnd(58)} ${String(value).padStart(9)} ${unit.padEnd(7)} ${verdict}`);
  }
  const artefacts = fileURLToPath(new URL('../../artefacts/', import.meta.url));
  mkdirSync(artefacts, { recursive: true });
  writeFileSync(`${artefacts}alarm-bench.json`, `${JSON.stringify(figures, null, 2)}\n`);
  writeFileSync(`${artefacts}alarm-bench.svg`, `${plot}\n`);
  if (scale === 1)
    writeFileSync(
      fileURLToPath(new URL('alarm-results.json', import.meta.url)),
      `${JSON.stringify(figures, null, 2)}\n`,
    );
}
