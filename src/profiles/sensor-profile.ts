// What a sensor profile says: how a sensor that speaks a protocol of its own is recognised, started and read. Data
// only; `decode-profile.ts` reads bytes by it, and the hub's link logic finds and starts the sensor by it.

import type { Channel } from '../../shared/schema-parts.ts';
import type { QualityReason } from '../samples/sample.ts';

export interface SensorProfile {
  readonly name: string;
  readonly measures: readonly ('heartRate' | 'oximeter')[];
  readonly match: { readonly services: readonly string[]; readonly namePrefix: string | null };
  readonly link: {
    /** UUIDs in lower case, four or 32 hex digits. */
    readonly service: string;
    readonly notify: string;
    /** Written in order after subscribing. */
    readonly start: readonly ProfileCommand[];
  };
  /** How frames are cut from the byte stream; null where every notification is one frame. */
  readonly frame: ProfileFraming | null;
  readonly fields: readonly ProfileField[];
}

export interface ProfileCommand {
  readonly characteristic: string;
  readonly bytes: Uint8Array;
  readonly withResponse: boolean;
}

export interface ProfileFraming {
  /** The bytes every frame begins with; at least one. */
  readonly sync: Uint8Array;
  readonly length: FrameLength;
  readonly checksum: ProfileChecksum | null;
}

export type FrameLength =
  /** Bytes of a whole frame, sync and checksum included. */
  | { readonly fixed: number }
  /** The byte at `at` plus `plus` gives the same; beyond `most` it is no frame. */
  | { readonly at: number; readonly plus: number; readonly most: number };

export interface ProfileChecksum {
  readonly kind: ChecksumKind;
  /** First byte it covers; it covers all from there up to its own place. */
  readonly from: number;
  /** Its place counted from the end of the frame: 1 is the last byte. */
  readonly fromEnd: number;
}

export const checksumKinds = ['sum8', 'sum7', 'xor8', 'negatedSum8', 'crc8'] as const;
/**
 * `sum8` and `sum7`: the sum's low eight or seven bits; `xor8`: all bytes XORed; `negatedSum8`: makes the sum zero;
 * `crc8`: polynomial 0x07, initially 0.
 */
export type ChecksumKind = (typeof checksumKinds)[number];

export const numberTypes = ['u8', 'i8', 'u16le', 'u16be', 'i16le', 'i16be', 'u32le', 'u32be'] as const;
export type NumberType = (typeof numberTypes)[number];

/** Channels a profile's fields can give. */
export const profileChannels = [
  'spo2Percent',
  'pulseRateBpm',
  'heartRateBpm',
  'perfusionIndexPercent',
  'pleth',
] as const satisfies readonly Channel[];
/** Conditions of the sensor that a profile's fields can give: the field is true when it is not 0. */
export const profileFlags = [
  'noContact',
  'lowPerfusion',
  'poorSignal',
  'sensorFault',
] as const satisfies readonly QualityReason[];

export interface ProfileField {
  /** A channel; a condition of the sensor, true when not 0; or a counter of frames. */
  readonly gives: (typeof profileChannels)[number] | (typeof profileFlags)[number] | 'counter';
  /** Index in the frame, from 0. */
  readonly at: number;
  readonly type: NumberType;
  /** Lowest and highest bit taken, counted from 0; null for all. */
  readonly bits: readonly [low: number, high: number] | null;
  /** value = raw * scale + offset */
  readonly scale: number;
  readonly offset: number;
  /** Raw values that mean "no reading". */
  readonly invalid: readonly number[];
  /** How many numbers stand one after another; more than 1 for waveforms only. */
  readonly count: number;
  /** Samples a second, for `pleth`. */
  readonly rateHz: number | null;
  /** Only in frames whose byte at `at` is `is`; null for all frames. */
  readonly when: { readonly at: number; readonly is: number } | null;
}

/** True for characteristics whose packets this profile reads. */
export const readsCharacteristic = (profile: SensorProfile, characteristic: string): boolean =>
  profile.link.notify === characteristic;

export const numberSizes: Readonly<Record<NumberType, number>> = {
  u8: 1,
  i8: 1,
  u16le: 2,
  u16be: 2,
  i16le: 2,
  i16be: 2,
  u32le: 4,
  u32be: 4,
};
