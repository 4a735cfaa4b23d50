// A CSV of the long format as a recording: values become the bytes a standard sensor would have sent, so that a
// replayed file goes through the same decoders as a live sensor.

import { createReadStream } from 'node:fs';
import { basename } from 'node:path';
import { type Said, said } from '../../../shared/said.ts';
import type { CsvSummary } from '../../../src/formats/csv/csv-reader.ts';
import { createCsvReader } from '../../../src/formats/csv/csv-reader.ts';
import type { CsvRow } from '../../../src/formats/csv/csv-row.ts';
import { HubError } from '../../base/hub-error.ts';
import { encodeHeartRateMeasurement } from '../simulated/encode-heart-rate-measurement.ts';
import { encodePlxContinuous } from '../simulated/encode-plx-continuous.ts';
import type { Recording, RecordingEvent } from './recording.ts';

export const csvStrapSensorId = 'replay:strap';
export const csvOximeterSensorId = 'replay:oximeter';

/** A pulse rate this near a saturation belongs to the same reading. */
const samePlxReadingMs = 1_500;
/** A heart rate row this recent stands beside an interval; else the rate comes from the interval itself. */
const heartRateHoldsMs = 3_000;
/** A file that begins later than this is moved to begin at 0. */
const longestLeadMs = 5_000;

/** Reads a file to a recording. Throws HubError `input.notFound` where it can't be read, else as `readCsvRecording`. */
export async function openCsvRecording(path: string): Promise<Recording> {
  try {
    return await readCsvRecording(basename(path), createReadStream(path, 'utf8'));
  } catch (error) {
    if (error instanceof HubError) throw error;
    throw new HubError('input.notFound', said('replay.unreadable', { path }), error);
  }
}

/** Reads pieces of text to a recording. Throws HubError `input.malformed` with file, line and column. */
export async function readCsvRecording(
  name: string,
  pieces: AsyncIterable<string> | Iterable<string>,
): Promise<Recording> {
  const reader = createCsvReader();
  const rows: CsvRow[] = [];
  const fail = (fault: Said): never => {
    throw new HubError('input.malformed', said('replay.malformed', { file: name, fault }));
  };
  for await (const piece of pieces) {
    const result = reader.push(piece);
    if (!result.ok) fail(result.reason.said);
    else for (const row of result.value) rows.push(row);
  }
  const end = reader.finish();
  if (!end.ok) return fail(end.reason.said);
  for (const row of end.value.rows) rows.push(row);
  if (rows.length === 0) fail(said('replay.noRows'));
  return csvRecording(rows, end.value.summary);
}

/**
 * A recording of rows in order of time. Saturations are rounded to 0.1 % and rates to 1 /min, as a standard sensor
 * would send them. Pleth has no standard characteristic and is not replayed, which a notice says.
 */
export function csvRecording(rows: readonly CsvRow[], summary: CsvSummary): Recording {
  const firstMs = rows[0]?.timeMs ?? 0;
  const shiftMs = firstMs > longestLeadMs ? firstMs : 0;
  const has = (channel: string): boolean =>
    rows.some((row) => row.kind === 'sample' && row.channel === channel);
  const notices: Said[] = [];
  if (summary.notice !== null) notices.push(summary.notice);
  if (shiftMs > 0) notices.push(said('replay.beginsAt', { seconds: shiftMs / 1000 }));
  if (has('pleth')) notices.push(said('replay.noPleth'));
  const events = [...strapEvents(rows), ...oximeterEvents(rows), ...markEvents(rows)]
    .map((event) => ({ ...event, atMs: event.atMs - shiftMs }))
    .sort((a, b) => a.atMs - b.atMs);
  const prefix = summary.simulated ? 'SIMULATED replay' : 'Replay';
  return {
    sensors: [
      ...(has('heartRateBpm') || has('rrIntervalMs')
        ? [{ sensorId: csvStrapSensorId, name: `${prefix} strap`, kinds: ['heartRate' as const] }]
        : []),
      ...(has('spo2Percent') || has('pulseRateBpm')
        ? [{ sensorId: csvOximeterSensorId, name: `${prefix} oximeter`, kinds: ['oximeter' as const] }]
        : []),
    ],
    events: () => events,
    durationMs: (rows.at(-1)?.timeMs ?? 0) - shiftMs,
    simulated: summary.simulated,
    notices,
  };
}

/** Each interval is sent at the beat that ends it; a heart rate without an interval on its own. */
function* strapEvents(rows: readonly CsvRow[]): Iterable<RecordingEvent> {
  let rate: { atMs: number; heartRateBpm: number } | undefined;
  for (const row of rows) {
    if (row.kind !== 'sample') continue;
    let bytes: Uint8Array;
    if (row.channel === 'heartRateBpm') {
      rate = { atMs: row.timeMs, heartRateBpm: row.value };
      bytes = encodeHeartRateMeasurement({ heartRateBpm: row.value });
    } else if (row.channel === 'rrIntervalMs') {
      const own = row.value > 0 ? Math.min(400, 60_000 / row.value) : 0;
      const recent = rate !== undefined && row.timeMs - rate.atMs <= heartRateHoldsMs;
      bytes = encodeHeartRateMeasurement({
        heartRateBpm: recent ? rate!.heartRateBpm : own,
        rrIntervalsMs: [row.value],
      });
    } else {
      continue;
    }
    yield { type: 'packet', atMs: row.timeMs, sensorId: csvStrapSensorId, characteristic: '2a37', bytes };
  }
}

/** One packet for each saturation, with the nearest pulse rate; pulse rates alone only where no saturation is. */
function* oximeterEvents(rows: readonly CsvRow[]): Iterable<RecordingEvent> {
  const of = (channel: string) =>
    rows.filter((row) => row.kind === 'sample' && row.channel === channel) as Extract<
      CsvRow,
      { kind: 'sample' }
    >[];
  const saturations = of('spo2Percent');
  const pulses = of('pulseRateBpm');
  let at = 0;
  const readings =
    saturations.length === 0
      ? pulses.map((pulse) => ({ atMs: pulse.timeMs, spo2Percent: undefined, pulseRateBpm: pulse.value }))
      : saturations.map((saturation) => {
          const distance = (index: number): number =>
            Math.abs((pulses[index]?.timeMs ?? Number.POSITIVE_INFINITY) - saturation.timeMs);
          while (at + 1 < pulses.length && distance(at + 1) <= distance(at)) at += 1;
          return {
            atMs: saturation.timeMs,
            spo2Percent: saturation.value,
            pulseRateBpm: distance(at) <= samePlxReadingMs ? pulses[at]?.value : undefined,
          };
        });
  for (const { atMs, spo2Percent, pulseRateBpm } of readings) {
    const bytes = encodePlxContinuous({ spo2Percent, pulseRateBpm, decimals: 1 });
    yield { type: 'packet', atMs, sensorId: csvOximeterSensorId, characteristic: '2a5f', bytes };
  }
}

function* markEvents(rows: readonly CsvRow[]): Iterable<RecordingEvent> {
  for (const row of rows) {
    if (row.kind === 'sample') continue;
    const mark =
      row.kind === 'note' ? { kind: 'note' as const, text: row.text } : { kind: row.mark, text: null };
    yield { type: 'mark', atMs: row.timeMs, athleteId: '', ...mark };
  }
}
