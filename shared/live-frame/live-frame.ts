// The layout of a live frame, by which the hub tells pages the newest values and samples of athletes: the one binary
// message of the wire. What it says is said again as `latest` and `trace` by LiveFrameReader. No stated byte is ever
// given another meaning without a new protocol version; tests/core/live-frame/live-frame.test.ts pins some.
//
//   frame    := 0x01 block*
//   block    := whole | change | fill
//   whole    := 0x01 slot:varint athleteId:text at:float64 fromMs:float64 tracedToMs:float64
//               droppedCount:varint decimatedCount:varint phase:byte spo2:readout heartRate:readout forecast traces
//   change   := head:byte slot:varint at:float64 [phase:byte] [spo2:readout] [heartRate:readout] [forecast] [traces]
//               head has bit 0 clear, and a bit of `changeBits` set for each part that follows
//   readout  := 0x00 (none) | 0x01 value:number at:float64 quality:byte sensorId:text reasons:list(text)
//             | 0x02 + channel: the last sample of that channel in this block, of the sensor and with the reasons of before
//   forecast := head:byte (of `forecastBits`) [six numbers] [lungs: its JSON as text]
//   traces   := list(trace);  trace := channel:byte list(sample)
//   sample   := head:byte (quality in the lowest two bits, then `sampleBits`) [at:float64] [value:number]
//   fill     := 0x03 athleteId:text fromMs:float64 toMs:float64 list(packed): what a page that joins has missed
//   packed   := channel:byte count:varint times values qualities
//   times    := per sample the tenths of a millisecond since the one before, varint; of the first since the session's start.
//               Rounded to tenths: finer than any sensor's moment is known, or any page draws
//   values   := per sample a varint: 0 none, 1 a float64 follows, else 2 + the zigzag of the whole tenths since the last such
//   qualities := per run of equal ones: quality:byte count:varint
//   list(x)  := count:varint x*
//
// varint, number and text stand in bytes.ts; float64 is little-endian; times are session-monotonic milliseconds; phases,
// qualities and channels are numbered in the order of their schemas.

import type { LatestMessage } from '../messages/latest.ts';
import type { TraceMessage } from '../messages/trace.ts';
import { channelSchema, phaseSchema, qualitySchema } from '../schema-parts.ts';

export const frameVersion = 1;
export const wholeHead = 1;
export const fillHead = 3;
export const packedValues = { none: 0, float: 1, firstTenths: 2 } as const;
export const changeBits = { phase: 2, spo2: 4, heartRate: 8, forecast: 16, traces: 32 } as const;
export const readoutKinds = { none: 0, full: 1, firstChannel: 2 } as const;
export const forecastBits = { known: 1, lowest: 2, seconds: 4, lungs: 8 } as const;
export const sampleBits = { atBlock: 4, none: 8 } as const;

export const phases = phaseSchema.options;
export const qualities = qualitySchema.options;
export const channels = channelSchema.options;
/** The letters of a trace's quality, in the order of `qualities`. */
export const qualityLetters = 'gsb';

/** The newest values of one athlete. */
export type LiveState = Omit<LatestMessage, 'type' | 'droppedCount'>;

/** Everything of one athlete that a page which joins has missed. */
export type TraceFill = Omit<TraceMessage, 'type' | 'decimatedCount'>;
