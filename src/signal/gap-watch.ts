// Notices spans in which a sensor's channel brought nothing, so that silence is drawn as silence.

import type { Channel } from '../../shared/schema-parts.ts';
import type { MonotonicMs } from '../../shared/units.ts';
import type { Sample } from '../samples/sample.ts';

export interface Gap {
  readonly channel: Channel;
  readonly sensorId: string;
  readonly fromMs: MonotonicMs;
  readonly toMs: MonotonicMs;
}

/**
 * A channel is silent when nothing has come for this long. Oximeters notify every 1-4 s (PLXS v1.0.1 s3.2.1), so
 * 4.5 s for what comes by notification; a beat interval may be 3 s long at 20 /min; waveforms come many times a second.
 */
const silentAfterMs: Readonly<Record<Channel, number>> = {
  spo2Percent: 4_500,
  pulseRateBpm: 4_500,
  perfusionIndexPercent: 4_500,
  heartRateBpm: 4_500,
  rrIntervalMs: 6_000,
  pleth: 1_000,
  respirationRaw: 2_500,
};

export interface GapWatch {
  /** Takes a sample; answers with the gap it ends, if it ends one. */
  push(sample: Sample): Gap | undefined;
  /** Gaps that no sample has ended by `atMs`. */
  openAt(atMs: MonotonicMs): readonly Gap[];
  /** The sensor is no longer worn: its silence from now on is no gap. */
  forget(sensorId: string): void;
}

interface Heard {
  readonly channel: Channel;
  readonly sensorId: string;
  atMs: MonotonicMs;
}

export function createGapWatch(): GapWatch {
  const bySensor = new Map<string, Partial<Record<Channel, Heard>>>();
  /** The same in the order in which they were first heard. */
  let all: Heard[] = [];

  return {
    push({ channel, sensorId, atMs }) {
      let ofSensor = bySensor.get(sensorId);
      if (ofSensor === undefined) {
        ofSensor = {};
        bySensor.set(sensorId, ofSensor);
      }
      const before = ofSensor[channel];
      if (before === undefined) {
        const heard = { channel, sensorId, atMs };
        ofSensor[channel] = heard;
        all.push(heard);
        return undefined;
      }
      const fromMs = before.atMs;
      if (atMs > fromMs) before.atMs = atMs;
      return atMs - fromMs > silentAfterMs[channel] ? { channel, sensorId, fromMs, toMs: atMs } : undefined;
    },
    openAt(atMs) {
      return all
        .filter((entry) => atMs - entry.atMs > silentAfterMs[entry.channel])
        .map((entry) => ({
          channel: entry.channel,
          sensorId: entry.sensorId,
          fromMs: entry.atMs,
          toMs: atMs,
        }));
    },
    forget(sensorId) {
      bySensor.delete(sensorId);
      all = all.filter((heard) => heard.sensorId !== sensorId);
    },
  };
}
