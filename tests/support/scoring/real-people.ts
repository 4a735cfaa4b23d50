// Real people who breathe throughout, as sessions without holds: the open sets in the datasets folder, each by what its
// sensors give and with channels withheld. Every hold found in them is false. The data stay outside the repository.

import { existsSync, readdirSync, readFileSync } from 'node:fs';
import type { Channel } from '../../../shared/schema-parts.ts';
import { monotonicMs } from '../../../shared/units.ts';
import type { PipelineEvent } from '../../../src/pipeline.ts';
import type { ScoredSession } from './scored-session.ts';

interface Reading {
  readonly channel: Channel;
  readonly atMs: number;
  readonly value: number;
}

const channelNames: Readonly<Record<string, Channel>> = {
  heart_rate_bpm: 'heartRateBpm',
  rr_interval_ms: 'rrIntervalMs',
  spo2_percent: 'spo2Percent',
  pulse_rate_bpm: 'pulseRateBpm',
  perfusion_index_percent: 'perfusionIndexPercent',
  pleth: 'pleth',
};
const ofStrap: ReadonlySet<Channel> = new Set(['heartRateBpm', 'rrIntervalMs']);

/** What of a recording is shown to the pipeline; a view whose channels a recording lacks is left out. */
const views: readonly { readonly sensors: string; readonly channels: readonly Channel[] }[] = [
  {
    sensors: 'beats, oximetry and pleth',
    channels: [
      'heartRateBpm',
      'rrIntervalMs',
      'spo2Percent',
      'pulseRateBpm',
      'perfusionIndexPercent',
      'pleth',
    ],
  },
  {
    sensors: 'beats and oximetry',
    channels: ['heartRateBpm', 'rrIntervalMs', 'spo2Percent', 'pulseRateBpm', 'perfusionIndexPercent'],
  },
  { sensors: 'beats and pleth', channels: ['rrIntervalMs', 'pleth'] },
  { sensors: 'beats only', channels: ['heartRateBpm', 'rrIntervalMs'] },
  {
    sensors: 'heart rate and oximetry',
    channels: ['heartRateBpm', 'spo2Percent', 'pulseRateBpm', 'perfusionIndexPercent'],
  },
  { sensors: 'oximetry only', channels: ['spo2Percent', 'pulseRateBpm', 'perfusionIndexPercent'] },
  { sensors: 'oximetry and pleth', channels: ['spo2Percent', 'pulseRateBpm', 'pleth'] },
  { sensors: 'heart rate only', channels: ['heartRateBpm'] },
  { sensors: 'pleth only', channels: ['pleth'] },
];
/** What must be there for a view to be one of its own. */
const needed: Readonly<Record<string, readonly Channel[]>> = {
  'beats, oximetry and pleth': ['rrIntervalMs', 'spo2Percent', 'pleth'],
  'beats and oximetry': ['rrIntervalMs', 'spo2Percent'],
  'beats and pleth': ['rrIntervalMs', 'pleth'],
  'beats only': ['rrIntervalMs'],
  'heart rate and oximetry': ['heartRateBpm', 'spo2Percent'],
  'oximetry only': ['spo2Percent'],
  'oximetry and pleth': ['spo2Percent', 'pleth'],
  'heart rate only': ['heartRateBpm'],
  'pleth only': ['pleth'],
};

function readLong(path: string, untilMs: number): Reading[] {
  const readings: Reading[] = [];
  for (const line of readFileSync(path, 'utf8').split(/\r?\n/)) {
    const [time, name, value] = line.split(',');
    const channel = channelNames[name ?? ''];
    const atMs = Number(time) * 1_000;
    if (channel === undefined || !Number.isFinite(atMs) || value === '' || atMs > untilMs) continue;
    readings.push({ channel, atMs, value: Number(value) });
  }
  return readings.sort((a, b) => a.atMs - b.atMs);
}

/** RR intervals one a line, after `[HRData]` where there is such a line; a beat's time is the sum so far. */
function readIntervals(path: string): Reading[] {
  const text = readFileSync(path, 'utf8');
  const lines = text.slice(Math.max(0, text.indexOf('[HRData]'))).split(/\r?\n/);
  let atMs = 0;
  return lines.map(Number).flatMap((value) => {
    if (!(value > 0)) return [];
    atMs += value;
    return [{ channel: 'rrIntervalMs' as const, atMs, value }];
  });
}

/** The laboratory's file: several oximeters and an ECG, once a second; see its PROVENANCE.md for the columns. */
function readDesaturation(path: string, oximeter: number): Reading[] {
  const readings: Reading[] = [];
  let firstS: number | undefined;
  for (const line of readFileSync(path, 'utf8').split(/\r?\n/)) {
    const cells = line.split(',').map((cell) => cell.trim());
    const clock = /^(\d\d):(\d\d):(\d\d)$/.exec(cells[0] ?? '');
    if (clock === null) continue;
    const second = Number(clock[1]) * 3_600 + Number(clock[2]) * 60 + Number(clock[3]);
    firstS ??= second;
    const atMs = (second - firstS) * 1_000;
    const take = (channel: Channel, text: string | undefined): void => {
      const value = Number(text);
      if (value > 0) readings.push({ channel, atMs, value });
    };
    take('spo2Percent', cells[oximeter]);
    take('pulseRateBpm', cells[5 + oximeter]);
    take('heartRateBpm', cells.filter((cell) => cell !== '').at(-9));
  }
  return readings;
}

function toEvents(readings: readonly Reading[]): PipelineEvent[] {
  return readings.map(({ channel, atMs, value }) => ({
    type: 'sample',
    sample: {
      channel,
      atMs: monotonicMs(atMs),
      value,
      sensorId: ofStrap.has(channel) ? 'strap' : 'oximeter',
      quality: 'good',
      reasons: [],
    },
  }));
}

function* inViews(
  set: string,
  name: string,
  readings: readonly Reading[],
  floorPercent: number,
  isKnown: (sensors: string) => boolean = () => false,
): Generator<ScoredSession> {
  const present = new Set(readings.map((r) => r.channel));
  const last = readings.at(-1);
  if (last === undefined) return;
  const seen = new Set<string>();
  for (const { sensors, channels } of views) {
    if (isKnown(sensors) || needed[sensors]!.some((channel) => !present.has(channel))) continue;
    const shown = channels.filter((channel) => present.has(channel)).join();
    if (seen.has(shown)) continue;
    seen.add(shown);
    yield {
      name: `${set}/${name}: ${sensors}`,
      conditions: { set, sensors },
      durationMs: last.atMs + 1,
      floorPercent,
      events: toEvents(readings.filter((r) => channels.includes(r.channel))),
      holds: [],
    };
  }
}

const breathingSets = ['bidmc', 'noneeg', 'cold-face', 'stress', 'normal-nights', 'resting'] as const;

export interface RealPeopleOptions {
  /** The folder with `ordinary-breathing`, `rr-intervals` and `controlled-desaturation`. */
  readonly folder: string;
  /** Of each recording no more than this. */
  readonly untilMs?: number;
  readonly onSkipped: (what: string) => void;
}

/** Every recording in every view. An absent set is said, never passed over in silence. */
export function* realPeople({
  folder,
  untilMs = Number.POSITIVE_INFINITY,
  onSkipped,
}: RealPeopleOptions): Generator<ScoredSession> {
  for (const set of breathingSets) {
    const path = `${folder}/ordinary-breathing/${set}`;
    if (!existsSync(path)) {
      onSkipped(path);
      continue;
    }
    for (const file of readdirSync(path).sort()) {
      if (!file.endsWith('.csv') || /conditions|breath_gaps|_resp\./.test(file)) continue;
      yield* inViews(set, file.replace('.csv', ''), readLong(`${path}/${file}`, untilMs), 88);
    }
  }
  const intervals = `${folder}/rr-intervals`;
  if (existsSync(intervals))
    for (const file of readdirSync(intervals).sort()) {
      if (/\.(hrm|txt)$/.test(file))
        yield* inViews('rr-intervals', file.replace(/\..*/, ''), readIntervals(`${intervals}/${file}`), 88);
    }
  else onSkipped(intervals);
  const laboratory = `${folder}/controlled-desaturation`;
  if (existsSync(laboratory))
    for (const file of readdirSync(`${laboratory}/gt`).sort()) {
      if (!/^\d+\.csv$/.test(file)) continue;
      // Slot 3 is unfilled in the original.
      for (const oximeter of [1, 2, 4, 5])
        yield* inViews(
          'controlled-desaturation',
          `${file.replace('.csv', '')} oximeter ${oximeter}`,
          readDesaturation(`${laboratory}/gt/${file}`, oximeter),
          82,
          // The same ECG stands beside each oximeter.
          (sensors) => sensors === 'heart rate only' && oximeter !== 1,
        );
    }
  else onSkipped(laboratory);
}
