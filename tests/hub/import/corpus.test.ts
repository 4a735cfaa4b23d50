// Files by independent writers (tests/foreign/make-corpus.py), each imported with the values, times and zone of the
// formula they were made by.

import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { createLocalTime } from '../../../hub/base/local-time.ts';
import { sourceOfBytes } from '../../../hub/recordings/import/file-source.ts';
import { openImport, previewOf } from '../../../hub/recordings/import/open-import.ts';
import { collectRecording } from '../../../src/formats/import-file.ts';
import { ok } from '../../../src/result.ts';
import { inWords } from '../../support/in-words.ts';

const folder = new URL('../../../fixtures/imports/corpus/', import.meta.url);

type Channel = 'heartRateBpm' | 'pulseRateBpm' | 'spo2Percent' | 'rrIntervalMs' | 'pleth';
interface Entry {
  readonly file: string;
  readonly writer: string;
  readonly zone: string;
  /** UTC, or null where the file does not say. */
  readonly start: string | null;
  readonly channels: readonly Channel[];
  /** Every so-manieth row has no reading. */
  readonly missing?: Partial<Record<Channel, number>>;
  readonly beats?: boolean;
  readonly held?: boolean;
  readonly gapMs?: number;
  readonly rows?: number;
  readonly marks?: number;
  readonly notice?: string;
  /** What a person has to say of a table without names. */
  readonly choose?: Readonly<Record<string, Channel>>;
}
const { rows, beatsMs, files } = JSON.parse(readFileSync(new URL('index.json', folder), 'utf8')) as {
  rows: readonly (readonly [second: number, heartRate: number, spo2: number])[];
  beatsMs: readonly number[];
  files: readonly Entry[];
};

function importOf({ file, zone, choose }: Entry) {
  const opened = openImport(file, sourceOfBytes(readFileSync(new URL(file, folder))), createLocalTime(zone));
  const columns =
    choose === undefined
      ? {}
      : {
          columns: Object.entries(choose).map(([index, channel]) => ({
            index: Number(index),
            channel,
            factor: 1,
          })),
        };
  const read = collectRecording((sink) => ok(opened.read(columns, sink, 'store')));
  if (!read.ok) throw new Error(inWords(read.reason.said));
  return { recording: read.value, preview: previewOf(file, opened) };
}

function truthOf(entry: Entry, channel: Channel): [atMs: number, value: number][] {
  if (channel === 'pleth')
    return Array.from({ length: 10_000 }, (_, i) => [4 * i, (((i % 1_000) - 500) / 1_000) * 2]);
  if (entry.beats === true) {
    let atMs = 0;
    return beatsMs.map((value) => {
      atMs += value;
      return [atMs, value];
    });
  }
  const every = entry.missing?.[channel] ?? 0;
  return rows
    .slice(0, entry.rows)
    .filter(([t]) => every === 0 || t % every !== 0)
    .map(([t, heartRate, spo2]) => [
      1_000 * t + (t >= 20 ? (entry.gapMs ?? 0) : 0),
      channel === 'spo2Percent' ? spo2 : heartRate,
    ]);
}

describe('the corpus', () => {
  test('is of sixty files at least, by six independent writers at least', () => {
    expect(files.length).toBeGreaterThanOrEqual(60);
    expect(new Set(files.map(({ writer }) => writer)).size).toBeGreaterThanOrEqual(6);
  });

  test.each(files)('$file by $writer', (entry) => {
    const { recording, preview } = importOf(entry);
    const start =
      recording.startedWallAtMs === null ? null : new Date(recording.startedWallAtMs).toISOString();
    expect(start).toBe(entry.start);
    expect([...new Set(recording.samples.map(({ channel }) => channel))].sort()).toEqual(
      [...entry.channels].sort(),
    );
    for (const channel of entry.channels) {
      const own = recording.samples.filter((sample) => sample.channel === channel);
      const truth = truthOf(entry, channel);
      if (entry.held !== true) expect([channel, own.length]).toEqual([channel, truth.length]);
      truth.forEach(([atMs, value], index) => {
        // A signal that is held comes as its changes: the value in force then.
        const sample = entry.held === true ? own.findLast((each) => each.atMs <= atMs) : own[index];
        if (entry.held !== true) expect(Math.abs(sample!.atMs - atMs)).toBeLessThanOrEqual(0.5);
        expect(sample!.value).toBeCloseTo(value, channel === 'pleth' ? 2 : 3);
      });
    }
    expect(recording.marks).toHaveLength(entry.marks ?? 0);
    if (entry.notice !== undefined) expect(inWords(...recording.notices)).toContain(entry.notice);
    if (preview.startIsLocal) expect(preview.timeZone).toBe(entry.zone);
  });
});
