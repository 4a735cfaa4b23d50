// The floor alarm on real people: recordings in which nobody holds their breath. How often readings lay below the floor
// for 3 s with no floor alarm, and how often the alarm came that the readings about it do not bear out.

import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { monotonicMs, percent } from '../../shared/units.ts';
import { createPipeline } from '../../src/pipeline.ts';
import type { Sample } from '../../src/samples/sample.ts';

export interface PeopleRecording {
  readonly name: string;
  readonly samples: readonly Sample[];
}

export interface PeopleFigures {
  readonly set: string;
  readonly floorPercent: number;
  readonly recordings: number;
  readonly hours: number;
  /** Stretches of readings all below the floor, from first to last 3 s or more, and those without an alarm by then. */
  readonly crossings: number;
  readonly missed: number;
  readonly alarms: number;
  /** The median of the readings within 15 s about it lies at or above the floor: short dips, by motion or real. */
  readonly notBorneOut: number;
}

const channels = {
  spo2_percent: 'spo2Percent',
  pulse_rate_bpm: 'pulseRateBpm',
  heart_rate_bpm: 'heartRateBpm',
} as const;

const sampleOf = (channel: Sample['channel'], timeS: number, value: number): Sample => ({
  channel,
  atMs: monotonicMs(Math.round(timeS * 1_000)),
  value,
  sensorId: channel === 'heartRateBpm' ? 'strap' : 'oximeter',
  quality: 'good',
  reasons: [],
});

function longFormat(path: string): Sample[] {
  return readFileSync(path, 'utf8')
    .split('\n')
    .flatMap((line) => {
      const [time, name, value] = line.split(',');
      const channel = channels[name as keyof typeof channels];
      return channel === undefined ? [] : [sampleOf(channel, Number(time), Number(value))];
    })
    .sort((one, other) => one.atMs - other.atMs);
}

function* recordingsOf(folder: string, set: string): Generator<PeopleRecording> {
  if (set === 'controlled-desaturation') {
    for (const subject of ['100001', '100003', '100005']) {
      const rows = readFileSync(`${folder}/${set}/gt/${subject}.csv`, 'utf8').trim().split('\n').slice(1);
      // Four reference oximeters; slot 3 is empty.
      for (const slot of [1, 2, 4, 5])
        yield {
          name: `${subject}-${slot}`,
          samples: rows.flatMap((row, second) => {
            const cells = row.split(',').map(Number);
            const [spo2, pulse] = [cells[slot] ?? 0, cells[slot + 5] ?? 0];
            return [
              ...(spo2 > 0 ? [sampleOf('spo2Percent', second, spo2)] : []),
              ...(pulse > 0 ? [sampleOf('pulseRateBpm', second, pulse)] : []),
            ];
          }),
        };
    }
    return;
  }
  const at = `${folder}/ordinary-breathing/${set}`;
  for (const name of readdirSync(at).sort()) {
    if (!/\d\.csv$/.test(name)) continue;
    const samples = longFormat(`${at}/${name}`);
    if (samples.some(({ channel }) => channel === 'spo2Percent')) yield { name, samples };
  }
}

/** The recordings of a set with a saturation in them; none where the set is not there. */
export function* peopleRecordings(folder: string, set: string): Generator<PeopleRecording> {
  if (isThere(folder, set)) yield* recordingsOf(folder, set);
}

/** Alarms are acknowledged 20 s after their beginning, so that new ones show. */
function floorAlarmsMs(
  { samples }: PeopleRecording,
  floorPercent: number,
): { raisedMs: number[]; presentMs: Set<number> } {
  const pipeline = createPipeline({
    floorSpo2Percent: percent(floorPercent),
    thresholdsPercent: [],
    heartRateLowBpm: null,
    heartRateHighBpm: null,
    maxHoldDurationMs: null,
    forecastAlarm: 'medium',
  });
  const raisedMs: number[] = [];
  const presentMs = new Set<number>();
  let wasPresent = false;
  let acknowledgeAtMs = Number.POSITIVE_INFINITY;
  for (const sample of samples) {
    if (sample.atMs >= acknowledgeAtMs) {
      pipeline.push({ type: 'acknowledge', atMs: sample.atMs });
      acknowledgeAtMs = Number.POSITIVE_INFINITY;
    }
    pipeline.push({ type: 'sample', sample });
    const floor = pipeline.state.alarms.find((alarm) => alarm.kind === 'floorBreached');
    const present = floor?.conditionPresent === true && floor.priority === 'high';
    if (present && !wasPresent) {
      raisedMs.push(sample.atMs);
      acknowledgeAtMs = Math.min(acknowledgeAtMs, sample.atMs + 20_000);
    }
    if (present) presentMs.add(sample.atMs);
    wasPresent = present;
  }
  return { raisedMs, presentMs };
}

/** Times at which readings have lain below the floor for 3 s, one for each such stretch. */
function crossingsMs(spo2: readonly Sample[], floorPercent: number): number[] {
  const times: number[] = [];
  let sinceMs: number | undefined;
  let counted = false;
  for (const { atMs, value } of spo2) {
    if (value >= floorPercent) {
      sinceMs = undefined;
      counted = false;
      continue;
    }
    sinceMs ??= atMs;
    if (counted || atMs - sinceMs < 3_000) continue;
    counted = true;
    times.push(atMs);
  }
  return times;
}

function isBorneOut(spo2: readonly Sample[], atMs: number, floorPercent: number): boolean {
  const near = spo2.filter((one) => Math.abs(one.atMs - atMs) <= 15_000).map(({ value }) => value);
  near.sort((one, other) => one - other);
  return (near[near.length >> 1] ?? 100) < floorPercent;
}

function isThere(folder: string, set: string): boolean {
  const at =
    set === 'controlled-desaturation' ? `${folder}/${set}/gt` : `${folder}/ordinary-breathing/${set}`;
  if (existsSync(at)) return true;
  console.error(`LEFT OUT: ${at} is not there`);
  return false;
}

/** One row a set; nothing for a set that is not there. */
export function benchPeople(folder: string): PeopleFigures[] {
  const plan = [
    ['bidmc', 88],
    ['noneeg', 88],
    ['stress', 88],
    ['controlled-desaturation', 88],
    ['controlled-desaturation', 82],
  ] as const;
  return plan.flatMap(([set, floorPercent]) => {
    if (!isThere(folder, set)) return [];
    const sum = { recordings: 0, hours: 0, crossings: 0, missed: 0, alarms: 0, notBorneOut: 0 };
    for (const recording of recordingsOf(folder, set)) {
      const spo2 = recording.samples.filter(({ channel }) => channel === 'spo2Percent');
      const { raisedMs, presentMs } = floorAlarmsMs(recording, floorPercent);
      const crossings = crossingsMs(spo2, floorPercent);
      sum.recordings += 1;
      sum.hours += ((spo2.at(-1)?.atMs ?? 0) - (spo2[0]?.atMs ?? 0)) / 3_600_000;
      sum.crossings += crossings.length;
      sum.missed += crossings.filter((atMs) => !presentMs.has(atMs)).length;
      sum.alarms += raisedMs.length;
      sum.notBorneOut += raisedMs.filter((atMs) => !isBorneOut(spo2, atMs, floorPercent)).length;
    }
    return [{ set, floorPercent, ...sum, hours: Math.round(sum.hours * 100) / 100 }];
  });
}
