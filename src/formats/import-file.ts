// What a reader of a foreign file is given and what it answers with: bytes or text in pieces, a sink for readings, and
// what is said of the file. Readers hold a piece at a time, so that a file's size does not matter.

import type { Said } from '../../shared/said.ts';
import type { Channel, SampleQuality } from '../../shared/schema-parts.ts';
import type { Result } from '../result.ts';
import type { ImportedMark, ImportedRecording, ImportedSample } from '../sessions/imported-recording.ts';

/** A file by its bytes, at any place. */
export interface ByteSource {
  readonly length: number;
  /** The bytes from `at`, fewer at the file's end. Good until the next call. */
  read(at: number, length: number): Uint8Array;
}

/** A file by its text, from the beginning each time. */
export interface TextSource {
  pieces(): Iterable<string>;
}

/** Local time of a place: what the core cannot know. */
export interface LocalTime {
  /** As people name it: "Europe/Berlin", "UTC". */
  readonly name: string;
  /**
   * Unix milliseconds of a local date and time, given as if it were UTC. A time that comes twice, when clocks are put
   * back, is the first one that is not before `notBeforeMs`; one that never was is moved forward as clocks were.
   */
  unixMsOf(civilMs: number, notBeforeMs?: number): number;
  /** Local time less UTC at a moment. */
  offsetMsAt(unixMs: number): number;
}

export const utc: LocalTime = { name: 'UTC', unixMsOf: (civilMs) => civilMs, offsetMsAt: () => 0 };

/** Takes what a reader finds, in the order of the file, which need not be that of time. Times may be negative. */
export interface ImportSink {
  sample(
    channel: Channel,
    atMs: number,
    earliestMs: number,
    latestMs: number,
    value: number,
    quality: SampleQuality,
  ): void;
  mark(mark: ImportedMark): void;
}

/** What is known of a recording when its file has been read to the end. */
export interface ImportSummary {
  /** Unix milliseconds of time 0, or null where the file does not say. */
  readonly startedWallAtMs: number | null;
  /** The recording goes from here to `endMs`: time 0 is the first row read, not always the earliest. */
  readonly beginMs: number;
  readonly endMs: number;
  readonly simulated: boolean;
  /** What a person should know. */
  readonly notices: readonly Said[];
}

export interface ImportFault {
  /** Begins with the place. */
  readonly said: Said;
}

export type ReadResult = Result<ImportSummary, ImportFault>;

/** Runs a reader and keeps everything: for files known to be small, and for tests. */
export function collectRecording(
  read: (sink: ImportSink) => ReadResult,
): Result<ImportedRecording, ImportFault> {
  const samples: ImportedSample[] = [];
  const marks: ImportedMark[] = [];
  const result = read({
    sample: (channel, atMs, earliestMs, latestMs, value, quality) =>
      samples.push({ channel, atMs, earliestMs, latestMs, value, quality }),
    mark: (mark) => marks.push(mark),
  });
  if (!result.ok) return result;
  const { beginMs, endMs, startedWallAtMs, simulated, notices } = result.value;
  const moved = (atMs: number): number => Math.round((atMs - beginMs) * 1e6) / 1e6;
  return {
    ok: true,
    value: {
      samples: samples
        .map((sample) =>
          beginMs === 0
            ? sample
            : {
                ...sample,
                atMs: moved(sample.atMs),
                earliestMs: moved(sample.earliestMs),
                latestMs: moved(sample.latestMs),
              },
        )
        .sort((a, b) => a.atMs - b.atMs),
      marks: marks.map((mark) => ({ ...mark, atMs: moved(mark.atMs) })).sort((a, b) => a.atMs - b.atMs),
      startedWallAtMs: startedWallAtMs === null ? null : startedWallAtMs + beginMs,
      durationMs: Math.ceil(endMs - beginMs),
      simulated,
      notices,
    },
  };
}
