// A sample: one number of one channel at one time, with its quality and why. The currency of the core.

import type { Channel, SampleQuality } from '../../shared/schema-parts.ts';
import type { MonotonicMs } from '../../shared/units.ts';

/** Why a sample is less than good. Ordered by nothing; a sample can have several. */
export type QualityReason =
  | 'noContact'
  | 'lowPerfusion'
  | 'poorSignal'
  | 'questionable'
  | 'earlyEstimate'
  | 'calibrationOngoing'
  | 'demoData'
  | 'fromStorage'
  | 'sensorFault'
  | 'sensorDisconnected'
  | 'outOfRange'
  | 'impossibleSlope'
  | 'motionDip'
  | 'stuckValue'
  | 'missedBeat'
  | 'extraBeat'
  | 'ectopicBeat'
  | 'artefactCorrected'
  | 'sensorsDisagree'
  | 'notQualified';

/**
 * One measured value.
 * `value` is in the unit the channel names; for `rrIntervalMs`, `atMs` is the beat that ends the interval.
 * `bad` samples are kept (nothing recorded is lost) but no hold, threshold or forecast rests on them.
 */
export interface Sample {
  readonly channel: Channel;
  readonly atMs: MonotonicMs;
  readonly value: number;
  readonly sensorId: string;
  readonly quality: SampleQuality;
  readonly reasons: readonly QualityReason[];
}
