// A recording of one athlete as CSV text: the same long format that `analyze` and `replay` read.
// Cleaned samples that are bad are left out of the values and counted in the head, so that no reader takes them for real.

import type { Channel } from '../shared/schema-parts.ts';
import type { Athlete, MarkView, SessionView } from '../shared/views.ts';
import type { DerivedRecording } from '../src/sessions/derive-recording.ts';

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

/** Rows a chunk of text carries: large enough to be quick, small enough to keep an hour of waveform out of memory. */
const rowsPerChunk = 2_000;

/** Yields the file in chunks. Times are seconds since the session's start with a resolution of a millisecond. */
export function* csvOfRecording(
  session: SessionView,
  athlete: Athlete,
  derived: DerivedRecording,
  marks: readonly MarkView[],
): Generator<string> {
  const simulated = session.simulated ? ['# SIMULATED: no person was measured'] : [];
  const columns = [...derived.columns].flatMap(([channel, column]) => {
    const name = channelNames[channel];
    return name === undefined
      ? []
      : [{ name, ...column.thin(0, Number.POSITIVE_INFINITY, Number.MAX_SAFE_INTEGER), next: 0 }];
  });
  const badCount = columns.reduce(
    (sum, column) => sum + [...column.quality].filter((letter) => letter === 'b').length,
    0,
  );
  yield [
    '# Slackwater recording. Not a medical device.',
    ...simulated,
    `# athlete: ${athlete.name.replaceAll(/[\r\n]/g, ' ')}`,
    `# started: ${new Date(session.startedWallAtMs).toISOString()}`,
    `# samples of bad quality left out: ${badCount}`,
    'time_s,channel,value\n',
  ].join('\n');

  const waitingMarks = marks
    .flatMap((mark) => {
      const value = markNames[mark.kind];
      return value === undefined ? [] : [{ atMs: mark.atMs as number, value }];
    })
    .sort((a, b) => a.atMs - b.atMs);
  let rows: string[] = [];
  for (;;) {
    let earliest: (typeof columns)[number] | undefined;
    let earliestAtMs = Number.POSITIVE_INFINITY;
    for (const column of columns) {
      const atMs = column.atMs[column.next];
      if (atMs !== undefined && atMs < earliestAtMs) {
        earliest = column;
        earliestAtMs = atMs;
      }
    }
    const mark = waitingMarks[0];
    if (mark !== undefined && mark.atMs <= earliestAtMs) {
      rows.push(`${seconds(mark.atMs)},mark,${mark.value}`);
      waitingMarks.shift();
    } else if (earliest !== undefined) {
      const { next } = earliest;
      if (earliest.quality[next] !== 'b')
        rows.push(`${seconds(earliestAtMs)},${earliest.name},${plain(earliest.value[next]!)}`);
      earliest.next = next + 1;
    } else {
      break;
    }
    if (rows.length >= rowsPerChunk) {
      yield `${rows.join('\n')}\n`;
      rows = [];
    }
  }
  if (rows.length > 0) yield `${rows.join('\n')}\n`;
}

const seconds = (atMs: number): string => (atMs / 1000).toFixed(3);

/** Six significant digits: beyond any sensor's resolution, short of single-precision noise. */
const plain = (value: number): string => String(Number(value.toPrecision(7)));
