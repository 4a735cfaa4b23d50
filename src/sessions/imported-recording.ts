// A recording made elsewhere, as values: what every importer answers with and what the hub turns into a session.

import type { Said } from '../../shared/said.ts';
import type { Channel, MarkKind, SampleQuality } from '../../shared/schema-parts.ts';

export interface ImportedSample {
  readonly channel: Channel;
  /** Milliseconds from the recording's start. */
  readonly atMs: number;
  /** The file's resolution of time: the reading was taken at or after `earliestMs` and before `latestMs`. */
  readonly earliestMs: number;
  readonly latestMs: number;
  readonly value: number;
  readonly quality: SampleQuality;
}

export interface ImportedMark {
  readonly kind: MarkKind;
  readonly atMs: number;
  readonly text: string | null;
}

export interface ImportedRecording {
  /** In time order. */
  readonly samples: readonly ImportedSample[];
  readonly marks: readonly ImportedMark[];
  /** Unix milliseconds, or null where the file does not say. */
  readonly startedWallAtMs: number | null;
  readonly durationMs: number;
  readonly simulated: boolean;
  /** What a person should know, a sentence each. */
  readonly notices: readonly Said[];
}

/**
 * What is read of one recording at most. More is most likely no session: a day, five million readings (fifty a second for
 * a day), and a wave of 500 a second for a day.
 */
export const importLimits = { durationMs: 86_400_000, readings: 5_000_000, waveSamples: 43_200_000 } as const;

/** Least and greatest value that a reading can have; outside of it the unit or the column is wrong. */
export const possibleValues: Readonly<Record<Channel, readonly [number, number]>> = {
  heartRateBpm: [10, 350],
  pulseRateBpm: [10, 350],
  rrIntervalMs: [100, 10_000],
  spo2Percent: [10, 100],
  perfusionIndexPercent: [0, 40],
  pleth: [-1e12, 1e12],
  respirationRaw: [-1e12, 1e12],
};
/** More than this share of impossible values means a wrong unit or column, not a few bad readings. */
export const mostImpossibleShare = 0.1;
