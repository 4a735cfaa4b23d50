// A recording of one athlete as CSV text: the same long format that `analyze` and `replay` read, as the sensors sent it.
// Samples that a sensor itself called bad are left out and counted in the head, so that no reader takes them for real.

import { type Channel, channelSchema } from '../../../shared/schema-parts.ts';
import type { Athlete, MarkView, SessionView } from '../../../shared/views.ts';
import { csvHeaderWithQuality } from '../../../src/formats/csv/csv-row.ts';
import { quotedText } from '../../../src/formats/csv/csv-writer.ts';
import type { HoldForFile } from '../../../src/formats/hold-for-file.ts';
import type { LocalTime } from '../../../src/formats/import-file.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import type { AlarmForFile } from './alarms-for-file.ts';
import type { ChangeForFile } from './changes-for-file.ts';
import { csvPreambleWords } from './table-words.ts';

const channelNames: Readonly<Partial<Record<Channel, string>>> = {
  heartRateBpm: 'heart_rate_bpm',
  rrIntervalMs: 'rr_interval_ms',
  spo2Percent: 'spo2_percent',
  pulseRateBpm: 'pulse_rate_bpm',
  perfusionIndexPercent: 'perfusion_index_percent',
  pleth: 'pleth',
};
const markNames: Readonly<Partial<Record<MarkView['kind'], string>>> = {
  holdStart: 'hold_start',
  holdEnd: 'hold_end',
  contraction: 'contraction',
  breathing: 'breathing',
  lungsFull: 'lungs_full',
  lungsHalf: 'lungs_half',
  lungsEmptied: 'lungs_emptied',
  answered: 'answered',
  stillHolding: 'still_holding',
};
/** Rows of the same time are in this order, so that an imported file is written again as it was. */
const channelOrder = new Map(channelSchema.options.map((channel, index) => [channel, index]));

/** Rows a chunk of text carries: large enough to be quick, small enough to keep an hour of waveform out of memory. */
const rowsPerChunk = 2_000;

/**
 * Yields the file in chunks. `samples` as the sensors sent them (sensor-samples.ts), in any order. Times are seconds
 * since the session's start with a resolution of a microsecond, which a beat's 1/1024 s needs. Alarms and changes of people and
 * sensors stand in the head, as what was said and done at the time; so do holds, found or corrected, so that a reader of the
 * rows takes none of them for a mark that somebody gave.
 */
export function* csvOfRecording(
  session: SessionView,
  athlete: Athlete,
  samples: Iterable<Sample>,
  marks: readonly MarkView[],
  {
    alarms,
    changes,
    holds,
  }: {
    readonly alarms: readonly AlarmForFile[];
    readonly changes: readonly ChangeForFile[];
    readonly holds: readonly HoldForFile[];
  },
  zone: LocalTime,
): Generator<string> {
  const simulated = session.simulated ? [csvPreambleWords.simulated] : [];
  // By the column: hours of a waveform would be millions of objects.
  const atUs: number[] = [];
  const values: number[] = [];
  const orders: number[] = [];
  const names: string[] = [];
  const suspect: boolean[] = [];
  const add = (at: number, order: number, value: number, name: string, isSuspect = false): void => {
    suspect.push(isSuspect);
    atUs.push(Math.round(at * 1_000));
    orders.push(order);
    values.push(value);
    names.push(name);
  };
  let badCount = 0;
  for (const { channel, atMs: at, value, quality } of samples) {
    const name = channelNames[channel];
    if (name === undefined) continue;
    if (quality === 'bad') badCount += 1;
    else add(at, channelOrder.get(channel)!, value, name, quality === 'suspect');
  }
  for (const { kind, atMs: at, text } of marks) {
    const name = markNames[kind];
    add(at, -1, 0, name === undefined ? `note,${quotedText(text ?? '')}` : `mark,${name}`);
  }
  const rows = Uint32Array.from(atUs.keys()).sort(
    (a, b) => atUs[a]! - atUs[b]! || orders[a]! - orders[b]! || values[a]! - values[b]! || a - b,
  );
  const textOf = (row: number): string =>
    orders[row] === -1
      ? `${names[row]!},`
      : `${names[row]},${plain(values[row]!)},${suspect[row] ? 'suspect' : 'good'}`;

  yield [
    csvPreambleWords.first,
    ...simulated,
    `# athlete: ${athlete.name.replaceAll(/[\r\n]/g, ' ')}`,
    ...(session.title === '' ? [] : [csvPreambleWords.title(session.title.replaceAll(/[\r\n]/g, ' '))]),
    `# started: ${localIsoText(session.startedWallAtMs, zone)}`,
    csvPreambleWords.startedInUtc(new Date(session.startedWallAtMs).toISOString(), zone.name),
    csvPreambleWords.leftOut(badCount),
    ...alarms.map(({ raisedAtMs, priority, message }) =>
      csvPreambleWords.alarm((raisedAtMs / 1000).toFixed(3), priority, message.replaceAll(/[\r\n]/g, ' ')),
    ),
    ...changes.map(({ atMs, text }) =>
      csvPreambleWords.change((atMs / 1000).toFixed(3), text.replaceAll(/[\r\n]/g, ' ')),
    ),
    ...holds.flatMap((hold, index) => csvPreambleWords.hold(index + 1, hold).map((line) => oneLine(line))),
    `${csvHeaderWithQuality}\n`,
  ].join('\n');
  for (let first = 0; first < rows.length; first += rowsPerChunk) {
    const lines: string[] = [];
    for (const row of rows.subarray(first, first + rowsPerChunk))
      lines.push(`${secondsText(atUs[row]!)},${textOf(row)}\n`);
    yield lines.join('');
  }
}

const oneLine = (text: string): string => text.replaceAll(/[\r\n]/g, ' ');

/** Three decimals, and as many more as there are. */
function secondsText(us: number): string {
  const ms = Math.floor(us / 1_000);
  const rest = us - ms * 1_000;
  const text = (ms / 1_000).toFixed(3);
  return rest === 0 ? text : `${text}${String(rest).padStart(3, '0').replace(/0+$/, '')}`;
}

/** ISO 8601 with the zone's offset at that moment. */
export function localIsoText(unixMs: number, zone: LocalTime): string {
  const minutes = Math.round(zone.offsetMsAt(unixMs) / 60_000);
  const two = (value: number): string => String(Math.floor(Math.abs(value))).padStart(2, '0');
  const local = new Date(unixMs + minutes * 60_000).toISOString().slice(0, -1);
  return `${local}${minutes < 0 ? '-' : '+'}${two(minutes / 60)}:${two(minutes % 60)}`;
}

/** Seven significant digits: beyond any sensor's resolution. */
const plain = (value: number): string => String(Number(value.toPrecision(7)));
