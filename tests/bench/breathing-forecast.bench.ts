// Forecast alarms in real people who breathe throughout: each one is needless. Reads the folder of open recordings
// given as argument (or in SLACKWATER_DATASETS); says so and ends where it is absent.

import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { monotonicMs, percent } from '../../shared/units.ts';
import { createPipeline } from '../../src/pipeline.ts';
import type { Sample } from '../../src/samples/sample.ts';

const floorPercent = 88;
const channels: Readonly<Record<string, Sample['channel']>> = {
  spo2_percent: 'spo2Percent',
  pulse_rate_bpm: 'pulseRateBpm',
  heart_rate_bpm: 'heartRateBpm',
  rr_interval_ms: 'rrIntervalMs',
};

function readSamples(path: string): Sample[] {
  return readFileSync(path, 'utf8')
    .trim()
    .split('\n')
    .slice(1)
    .flatMap((line) => {
      const [time, name, value] = line.split(',');
      const channel = channels[name!];
      if (channel === undefined) return [];
      const sensorId = channel === 'spo2Percent' || channel === 'pulseRateBpm' ? 'finger' : 'strap';
      return [
        {
          channel,
          atMs: monotonicMs(1000 * Number(time)),
          value: Number(value),
          sensorId,
          quality: 'good' as const,
          reasons: [],
        },
      ];
    })
    .sort((one, other) => one.atMs - other.atMs);
}

/** Times at which a forecast alarm began, each acknowledged at once so that the next shows. */
function forecastAlarms(samples: readonly Sample[]): number[] {
  const pipeline = createPipeline({
    floorSpo2Percent: percent(floorPercent),
    thresholdsPercent: [],
    heartRateLowBpm: null,
    heartRateHighBpm: null,
    maxHoldDurationMs: null,
    forecastAlarm: 'high',
  });
  const times: number[] = [];
  let isOn = false;
  for (const sample of samples) {
    for (const output of pipeline.push({ type: 'sample', sample })) {
      if (output.type !== 'alarms') continue;
      const now = output.alarms.some(
        ({ kind, conditionPresent }) => kind === 'floorForecast' && conditionPresent,
      );
      if (now && !isOn) times.push(output.atMs);
      isOn = now;
    }
  }
  return times;
}

interface Tally {
  hours: number;
  alarms: number;
  /** The display stayed 3 points above the floor for the next minute. */
  needless: number;
}

function tallyOf(recordings: Iterable<readonly Sample[]>): Tally {
  const tally = { hours: 0, alarms: 0, needless: 0 };
  for (const samples of recordings) {
    const spo2 = samples.filter(({ channel }) => channel === 'spo2Percent');
    if (spo2.length === 0) continue;
    tally.hours += (spo2[spo2.length - 1]!.atMs - spo2[0]!.atMs) / 3_600_000;
    for (const atMs of forecastAlarms(samples)) {
      tally.alarms++;
      const after = spo2.filter((sample) => sample.atMs >= atMs - 5_000 && sample.atMs <= atMs + 60_000);
      if (after.every(({ value }) => value >= floorPercent + 3)) tally.needless++;
    }
  }
  return tally;
}

const folder = process.argv[2] ?? process.env['SLACKWATER_DATASETS'] ?? '../shared/datasets';
if (!existsSync(`${folder}/ordinary-breathing`)) {
  console.error(`NOT RUN: there is no ${folder}/ordinary-breathing; give the folder of the open recordings.`);
} else {
  const inFolder = function* (name: string): Generator<Sample[]> {
    for (const file of readdirSync(`${folder}/ordinary-breathing/${name}`).sort())
      if (/^(subject|bidmc_|.*spo2).*\.csv$/.test(file))
        yield readSamples(`${folder}/ordinary-breathing/${name}/${file}`);
  };
  for (const [name, recordings] of [
    ['noneeg: healthy, finger oximetry, rest and moving', inFolder('noneeg')],
    ['bidmc: hospital, beats and oximetry', inFolder('bidmc')],
  ] as const) {
    const { hours, alarms, needless } = tallyOf(recordings);
    console.log(
      `${name.padEnd(54)} ${hours.toFixed(2)} h, ${alarms} forecast alarms, ` +
        `${needless} needless, ${((10 * needless) / hours).toFixed(2)} needless per 10 h`,
    );
  }
}
