// What a sensor profile says: how a sensor that speaks a protocol of its own is recognised, started and read. Data
// only; `decode-profile.ts` reads bytes by it, and the hub's link logic finds and starts the sensor by it.

import type { Channel } from '../../shared/schema-parts.ts';
import type { QualityReason } from '../samples/sample.ts';
import type { CrcParameters } from './checksum.ts';

export interface SensorProfile {
  readonly name: string;
  readonly measures: readonly ('heartRate' | 'oximeter' | 'breathing')[];
  readonly match: { readonly services: readonly string[]; readonly namePrefix: string | null };
  readonly link: {
    /** UUIDs in lower case, four or 32 hex digits. */
    readonly service: string;
    readonly notify: string;
    /** Further characteristics of the service that it sends from, each cut into frames in its own way. */
    readonly also?: readonly { readonly notify: string; readonly frame: ProfileFraming | null }[] | undefined;
    /** Written in order after subscribing. */
    readonly start: readonly ProfileCommand[];
    /** Written before a link is closed on purpose. */
    readonly stop?: readonly ProfileCommand[] | undefined;
    /** Written every so often, or the sensor falls silent. */
    readonly keepAlive?: (ProfileCommand & { readonly everyMs: number }) | undefined;
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
  /**
   * Bits of each sync byte that count; all when left out. With one sync byte and a mask, no other byte of a frame may
   * look like it: that is how frames are told apart whose first byte alone has bit 7.
   */
  readonly syncMask?: Uint8Array | undefined;
  /** Bytes inside a frame that would look like its sync are written as two. */
  readonly escape?: FrameEscape | undefined;
  readonly length: FrameLength;
  readonly checksum: ProfileChecksum | null;
}

export type FrameLength =
  /** Bytes of a whole frame, sync and checksum included. */
  | { readonly fixed: number }
  /** The byte at `at` plus `plus` gives the same; beyond `most` it is no frame. */
  | { readonly at: number; readonly plus: number; readonly most: number }
  /** By the type of frame that the byte at `at` tells; any other is no frame. */
  | { readonly at: number; readonly sizes: Readonly<Record<number, number>> }
  /** Up to these bytes, which belong to the frame and stand nowhere else in it but escaped; beyond `most` it is no frame. */
  | { readonly until: Uint8Array; readonly most: number };

/** After the mark comes either the byte exclusive-or something, or a byte that stands for another. */
export type FrameEscape =
  | { readonly mark: number; readonly xor: number }
  | { readonly mark: number; readonly stands: Readonly<Record<number, number>> };

export interface ProfileChecksum {
  readonly kind: ChecksumKind;
  /** First byte it covers; it covers all from there up to its own place. */
  readonly from: number;
  /** Its (first) byte's place counted from the end of the frame: 1 is the last byte. */
  readonly fromEnd: number;
  /** Other parameters than usual, for `crc8` and `crc16` (checksum.ts). */
  readonly parameters?: Partial<CrcParameters> | undefined;
  /** The low byte of a `crc16` comes first. */
  readonly lowByteFirst?: boolean | undefined;
}

export const checksumKinds = ['sum8', 'sum7', 'xor8', 'negatedSum8', 'crc8', 'crc16'] as const;
/**
 * `sum8` and `sum7`: the sum's low eight or seven bits; `xor8`: all bytes XORed; `negatedSum8`: makes the sum zero;
 * `crc8`, `crc16`: cyclic redundancy checks, of the usual parameters or others.
 */
export type ChecksumKind = (typeof checksumKinds)[number];

export const numberTypes = [
  'u8',
  'i8',
  'u16le',
  'u16be',
  'i16le',
  'i16be',
  'u24le',
  'u24be',
  'i24le',
  'i24be',
  'u32le',
  'u32be',
  'i32le',
  'i32be',
] as const;
export type NumberType = (typeof numberTypes)[number];

/** Channels a profile's fields can give. */
export const profileChannels = [
  'spo2Percent',
  'pulseRateBpm',
  'heartRateBpm',
  'perfusionIndexPercent',
  'rrIntervalMs',
  'pleth',
  'respirationRaw',
] as const satisfies readonly Channel[];
/**
 * Waves from which a channel is worked out: three axes of an accelerometer on chest or belly give `respirationRaw`
 * (src/signal/chest-accelerometer.ts), an electrocardiogram gives `rrIntervalMs` (src/signal/qrs-detector.ts).
 */
export const profileSources = ['accelX', 'accelY', 'accelZ', 'ecg'] as const;
/** What comes many times a second, at a rate. */
const profileWaves = ['pleth', 'respirationRaw', ...profileSources] as const;
export type ProfileWave = (typeof profileWaves)[number];
/** Conditions of the sensor that a profile's fields can give: the field is true when it is not 0. */
export const profileFlags = [
  'noContact',
  'lowPerfusion',
  'poorSignal',
  'sensorFault',
] as const satisfies readonly QualityReason[];

/** What fields can give beside readings and conditions. */
export const profileAsides = ['counter', 'timestamp', 'batteryPercent'] as const;

export interface ProfileField {
  /**
   * A channel; a wave from which one is worked out; a condition of the sensor, true when not 0; a counter of frames; the
   * sensor's own time of the frame in milliseconds (after `scale`); or its battery's charge in per cent. A condition in
   * frames that hold no reading, as in a status frame, stands until the next frame that tells it.
   */
  readonly gives:
    | (typeof profileChannels)[number]
    | (typeof profileSources)[number]
    | (typeof profileFlags)[number]
    | (typeof profileAsides)[number];
  /** Index in the frame, from 0. */
  readonly at: number;
  readonly type: NumberType;
  /** Lowest and highest bit taken, counted from 0; null for all. */
  readonly bits: readonly [low: number, high: number] | null;
  /** Bits put together from several places, highest first, in place of `at`, `type` and `bits`. */
  readonly parts?:
    | readonly { readonly at: number; readonly bits: readonly [low: number, high: number] }[]
    | undefined;
  /** The bits taken are a number with a sign (two's complement). */
  readonly signed?: boolean | undefined;
  /** A condition that is true when 0. */
  readonly inverted?: boolean | undefined;
  /** A condition that is true at these raw values, in place of every one but 0. */
  readonly is?: readonly number[] | undefined;
  /** The characteristic whose frames it is in; `link.notify` when left out. */
  readonly from?: string | undefined;
  /** value = raw * scale + offset */
  readonly scale: number;
  readonly offset: number;
  /** Raw values that mean "no reading". */
  readonly invalid: readonly number[];
  /** How many numbers stand one after another; more than 1 for waves and beats only. `rest`: to the end of the frame. */
  readonly count: number | 'rest';
  /** Bytes from one number to the next; the number's own size when left out. For numbers that take turns, as three axes do. */
  readonly stride?: number | undefined;
  /** Samples a second, for waves. */
  readonly rateHz: number | null;
  /** Only in frames whose byte at `at` is `is`, as far as the bits of `mask` go; null for all frames. */
  readonly when: { readonly at: number; readonly is: number; readonly mask?: number | undefined } | null;
}

/** True for characteristics whose packets this profile reads. */
export const readsCharacteristic = (profile: SensorProfile, characteristic: string): boolean =>
  profile.link.notify === characteristic ||
  (profile.link.also?.some(({ notify }) => notify === characteristic) ?? false);

/** How a characteristic's bytes are cut into frames. */
export const framingOf = (profile: SensorProfile, characteristic: string): ProfileFraming | null => {
  const other = profile.link.also?.find(({ notify }) => notify === characteristic);
  return other === undefined ? profile.frame : other.frame;
};

export const numberSizes: Readonly<Record<NumberType, number>> = {
  u8: 1,
  i8: 1,
  u16le: 2,
  u16be: 2,
  i16le: 2,
  i16be: 2,
  u24le: 3,
  u24be: 3,
  i24le: 3,
  i24be: 3,
  u32le: 4,
  u32be: 4,
  i32le: 4,
  i32be: 4,
};

export const isWave = (gives: ProfileField['gives']): gives is ProfileWave =>
  (profileWaves as readonly string[]).includes(gives);
