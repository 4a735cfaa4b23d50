// How a recording's channels stand in an EDF+ file: labels, units and scales. Used in both directions.

import type { Channel } from '../../../shared/schema-parts.ts';
import type { Sample } from '../../samples/sample.ts';
import type { EdfSignal } from './edf-file.ts';
import { transducers } from './edf-words.ts';

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
    transducer: transducers.strapRate,
    unit: 'bpm',
    scale: steps(1_000, 1_000),
  },
  {
    channel: 'rrIntervalMs',
    label: 'RR strap',
    transducer: transducers.strapInterval,
    unit: 'ms',
    // 32000 ms are 32768 units of 1/1024 s; half of that leaves whole numbers at both ends.
    scale: steps(16_000, 16_384),
  },
  {
    channel: 'spo2Percent',
    label: 'SaO2 finger',
    transducer: transducers.oximeterSaturation,
    unit: '%',
    scale: steps(200, 2_000),
  },
  {
    channel: 'pulseRateBpm',
    label: 'HR finger',
    transducer: transducers.oximeter,
    unit: 'bpm',
    scale: steps(1_000, 10_000),
  },
  {
    channel: 'perfusionIndexPercent',
    label: 'PI finger',
    transducer: transducers.oximeterPerfusion,
    unit: '%',
    scale: steps(200, 20_000),
  },
  { channel: 'pleth', label: 'Pleth finger', transducer: transducers.oximeter, unit: '', scale: null },
];

/** Label of the signal that says which cells hold a reading, beside the signal `label`. */
export const qualityLabel = (label: string): string => `Q ${label}`;

/** What the header's eight characters hold. */
const leastBound = 2 ** -5;
const greatestBound = 2 ** 23;

/**
 * A power of two round zero. It is the least that every value is within half a step of, which what comes back from the
 * file, rounded to its steps, is again: so the same scale is found again.
 */
export function scaleOfWave(samples: readonly Pick<Sample, 'value'>[]): NonNullable<ChannelSignal['scale']> {
  let extent = 0;
  for (const { value } of samples) extent = Math.max(extent, Math.abs(value));
  let bound = leastBound;
  while (bound < greatestBound && extent > bound * (1 + 0.5 / greatestDigital)) bound *= 2;
  // Sensors send whole numbers: on steps of a power of two these come back exactly, as all on such steps do.
  // What would be rounded to nothing or to the bound counts as there already, since that is what comes back.
  const isExact =
    samples.every(({ value }) => Number.isInteger((value * exactDigital) / bound)) ||
    samples.every(({ value }) => {
      const step = Math.abs(Math.round((value * greatestDigital) / bound));
      return step === 0 || step >= greatestDigital;
    });
  const most = isExact ? exactDigital : greatestDigital;
  return { physicalMin: -bound, physicalMax: bound, digitalMin: -most, digitalMax: most };
}
const greatestDigital = 32_767;
const exactDigital = 16_384;
