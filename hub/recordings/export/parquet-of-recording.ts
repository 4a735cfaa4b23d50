// A recording of one athlete as Apache Parquet: one reading or mark a row, with its quality. What the file is about stands
// in its key-value metadata.

import { parquetWriteBuffer } from 'hyparquet-writer';
import type { Athlete, MarkView, SessionView } from '../../../shared/views.ts';
import type { LocalTime } from '../../../src/formats/import-file.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { snakeName } from './channel-names.ts';
import { localIsoText } from './csv-of-recording.ts';
import { parquetWords } from './table-words.ts';

/** Rows in order of time. `samples` as the sensors sent them, all of them, bad ones too. */
export function parquetOfRecording(
  session: SessionView,
  athlete: Athlete,
  samples: readonly Sample[],
  marks: readonly MarkView[],
  zone: LocalTime,
): Uint8Array {
  const rows = [
    ...samples.map(({ channel, atMs, value, quality }) => ({
      atMs,
      channel: snakeName(channel),
      value,
      quality: quality as string | null,
      text: null as string | null,
    })),
    ...marks.map(({ kind, atMs, text }) => ({
      atMs,
      channel: 'mark',
      value: null,
      quality: null,
      text: kind === 'note' ? (text ?? '') : snakeName(kind),
    })),
  ].sort((a, b) => a.atMs - b.atMs);
  const metadata = {
    description: parquetWords.description,
    ...(session.simulated && { simulated: parquetWords.simulated }),
    athlete: athlete.name,
    ...(session.title !== '' && { title: session.title }),
    started_utc: new Date(session.startedWallAtMs).toISOString(),
    started_local: `${localIsoText(session.startedWallAtMs, zone)} (${zone.name})`,
  };
  return new Uint8Array(
    parquetWriteBuffer({
      columnData: [
        // Microseconds: beats have a clock of 1/1024 s.
        {
          name: 'time_s',
          data: Float64Array.from(rows, ({ atMs }) => Math.round(atMs * 1_000) / 1e6),
          type: 'DOUBLE',
        },
        { name: 'channel', data: rows.map(({ channel }) => channel), type: 'STRING' },
        { name: 'value', data: rows.map(({ value }) => value), type: 'DOUBLE', nullable: true },
        { name: 'quality', data: rows.map(({ quality }) => quality), type: 'STRING', nullable: true },
        { name: 'text', data: rows.map(({ text }) => text), type: 'STRING', nullable: true },
      ],
      kvMetadata: Object.entries(metadata).map(([key, value]) => ({ key, value })),
      rowGroupSize: 100_000,
    }),
  );
}
