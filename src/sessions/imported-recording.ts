// A recording made elsewhere, as values: what every importer answers with and what the hub turns into a session.

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
  readonly notices: readonly string[];
}

/**
 * What is read of one recording at most. More is most likely no session, and would keep the hub from everything else
 * for minutes: a day, a million readings (four a second of three channels through it), and three million samples of a
 * wave (eight hours of 100 a second).
 */
export const importLimits = { durationMs: 86_400_000, readings: 1_000_000, waveSamples: 3_000_000 } as const;
export const limitOf = (channel: Channel): number =>
  channel === 'pleth' || channel === 'respirationRaw' ? importLimits.waveSamples : importLimits.readings;

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
