// How a recording's channels stand in an EDF+ file: labels, units and scales. Used in both directions.

import type { Channel } from '../../../shared/schema-parts.ts';
import type { EdfSignal } from './edf-file.ts';

export interface ChannelSignal {
  readonly channel: Channel;
  readonly label: string;
  readonly transducer: string;
  readonly unit: string;
  /** Null: from the least and greatest value of the recording. */
  readonly scale: Pick<EdfSignal, 'physicalMin' | 'physicalMax' | 'digitalMin' | 'digitalMax'> | null;
}

const steps = (physicalMax: number, digitalMax: number) => ({
  physicalMin: 0,
  physicalMax,
  digitalMin: 0,
  digitalMax,
});

/**
 * Steps are those of the sensors' own numbers: 1 /min and 1/1024 s (Heart Rate Service 1.0), 0.1 % and 0.1 /min and
 * 0.01 % (SFLOAT as oximeters use it), so that nothing is rounded. Labels follow EDF+'s "type, place".
 */
export const channelSignals: readonly ChannelSignal[] = [
  {
    channel: 'heartRateBpm',
    label: 'HR strap',
    transducer: 'heart rate strap',
    unit: 'bpm',
    scale: steps(1_000, 1_000),
  },
  {
    channel: 'rrIntervalMs',
    label: 'RR strap',
    transducer: 'heart rate strap, interval that ends here',
    unit: 'ms',
    // 32000 ms are 32768 units of 1/1024 s; half of that leaves whole numbers at both ends.
    scale: steps(16_000, 16_384),
  },
  {
    channel: 'spo2Percent',
    label: 'SaO2 finger',
    transducer: 'pulse oximeter (SpO2)',
    unit: '%',
    scale: steps(200, 2_000),
  },
  {
    channel: 'pulseRateBpm',
    label: 'HR finger',
    transducer: 'pulse oximeter',
    unit: 'bpm',
    scale: steps(1_000, 10_000),
  },
  {
    channel: 'perfusionIndexPercent',
    label: 'PI finger',
    transducer: 'pulse oximeter, perfusion index',
    unit: '%',
    scale: steps(200, 20_000),
  },
  { channel: 'pleth', label: 'Pleth finger', transducer: 'pulse oximeter', unit: '', scale: null },
];

/** Label of the signal that says which cells hold a reading, beside the signal `label`. */
export const qualityLabel = (label: string): string => `Q ${label}`;
