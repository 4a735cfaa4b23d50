// A recording of one athlete as CSV text: the same long format that `analyze` and `replay` read, as the sensors sent it.
// Samples that a sensor itself called bad are left out and counted in the head, so that no reader takes them for real.

import { type Channel, channelSchema } from '../shared/schema-parts.ts';
import type { Athlete, MarkView, SessionView } from '../shared/views.ts';
import type { Sample } from '../src/samples/sample.ts';

const channelNames: Readonly<Partial<Record<Channel, string>>> = {
  heartRateBpm: 'heart_rate_bpm',
  rrIntervalMs: 'rr_interval_ms',
  spo2Percent: 'spo2_percent',
  pulseRateBpm: 'pulse_rate_bpm',
  pleth: 'pleth',
};
const markNames: Readonly<Partial<Record<MarkView['kind'], string>>> = {
  holdStart: 'hold_start',
  holdEnd: 'hold_end',
  contraction: 'contraction',
};
/** Rows of the same millisecond are in this order, so that an imported file is written again as it was. */
const channelOrder = new Map(channelSchema.options.map((channel, index) => [channel, index]));

/** Rows a chunk of text carries: large enough to be quick, small enough to keep an hour of waveform out of memory. */
const rowsPerChunk = 2_000;

/**
 * Yields the file in chunks. `samples` as the sensors sent them (sensor-samples.ts). Times are seconds since the
 * session's start with a resolution of a millisecond.
 */
export function* csvOfRecording(
  session: SessionView,
  athlete: Athlete,
  samples: readonly Sample[],
  marks: readonly MarkView[],
): Generator<string> {
  const simulated = session.simulated ? ['# SIMULATED: no person was measured'] : [];
  const rows: {
    readonly atMs: number;
    readonly order: number;
    readonly value: number;
    readonly text: string;
  }[] = [];
  let badCount = 0;
  for (const { channel, atMs, value, quality } of samples) {
    const name = channelNames[channel];
    if (name === undefined) continue;
    if (quality === 'bad') {
      badCount += 1;
      continue;
    }
    rows.push({
      atMs: Math.round(atMs),
      order: channelOrder.get(channel)!,
      value,
      text: `${name},${plain(value)}`,
    });
  }
  for (const { kind, atMs } of marks) {
    const name = markNames[kind];
    if (name !== undefined) rows.push({ atMs: Math.round(atMs), order: -1, value: 0, text: `mark,${name}` });
  }
  rows.sort((a, b) => a.atMs - b.atMs || a.order - b.order || a.value - b.value);

  yield [
    '# Slackwater recording. Not a medical device.',
    ...simulated,
    `# athlete: ${athlete.name.replaceAll(/[\r\n]/g, ' ')}`,
    `# started: ${new Date(session.startedWallAtMs).toISOString()}`,
    `# samples of bad quality left out: ${badCount}`,
    'time_s,channel,value\n',
  ].join('\n');
  for (let first = 0; first < rows.length; first += rowsPerChunk) {
    const chunk = rows.slice(first, first + rowsPerChunk);
    yield chunk.map(({ atMs, text }) => `${(atMs / 1000).toFixed(3)},${text}\n`).join('');
  }
}

/** Seven significant digits: beyond any sensor's resolution. */
const plain = (value: number): string => String(Number(value.toPrecision(7)));
