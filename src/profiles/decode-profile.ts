// Reads the bytes of one sensor by its profile: frames to samples with their quality. Remembers what spans
// notifications (half a frame, the counter, the waveform's clock). Takes any bytes without throwing.

import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import { type MissingValue, readingLimits } from '../gatt/readings-to-samples.ts';
import type { QualityReason, Sample } from '../samples/sample.ts';
import { cutFrames } from './frame-cutter.ts';
import { numberSizes, type ProfileField, profileFlags, type SensorProfile } from './sensor-profile.ts';

/** What is remembered between two notifications of one sensor. */
export interface ProfileState {
  readonly pending: Uint8Array;
  /** When the newest of the pending bytes came. */
  readonly pendingAtMs: number;
  readonly lastCounter: number | null;
  /** Time of the last waveform sample; null before the first and after a gap. */
  readonly plethAtMs: number | null;
  readonly counts: ProfileCounts;
}

export interface ProfileCounts {
  readonly frames: number;
  /** Frames that failed their checksum or told an impossible length. */
  readonly damaged: number;
  /** Bytes that belonged to no frame. */
  readonly skippedBytes: number;
  /** Frames that the counter says are missing. */
  readonly missed: number;
  /** Frames with the counter of the one before: not decoded again. */
  readonly repeated: number;
}

export const initialProfileState: ProfileState = {
  pending: new Uint8Array(0),
  pendingAtMs: Number.NEGATIVE_INFINITY,
  lastCounter: null,
  plethAtMs: null,
  counts: { frames: 0, damaged: 0, skippedBytes: 0, missed: 0, repeated: 0 },
};

export interface ProfileSamples {
  readonly state: ProfileState;
  /** In rising order of time within a channel. */
  readonly samples: readonly Sample[];
  readonly missing: readonly MissingValue[];
  /** Why bytes did not become readings, one sentence each. */
  readonly discards: readonly string[];
}

/**
 * Takes one notification that arrived at `atMs`. Values do not depend on how the sensor cut its stream into
 * notifications; their times do, to within one notification.
 */
export function decodeProfile(
  profile: SensorProfile,
  state: ProfileState,
  sensorId: string,
  bytes: Uint8Array,
  atMs: MonotonicMs,
): ProfileSamples {
  const isStale = state.pending.length > 0 && atMs - state.pendingAtMs > staleAfterMs;
  const pending = isStale ? initialProfileState.pending : state.pending;
  const cut =
    profile.frame === null
      ? { pending, frames: [bytes], skippedByteCount: 0, damagedCount: 0 }
      : cutFrames(profile.frame, pending, bytes);
  const samples: Sample[] = [];
  const missing: MissingValue[] = [];
  const discards: string[] = [];
  const waveform: { value: number | null; reasons: readonly QualityReason[] }[] = [];
  let rateHz: number | null = null;
  let { lastCounter } = state;
  let { frames, missed, repeated } = state.counts;
  if (isStale) discards.push(`${state.pending.length} bytes of a frame that was never finished`);
  if (cut.damagedCount > 0) discards.push(`${cut.damagedCount} damaged frames`);
  if (cut.skippedByteCount > 0) discards.push(`${cut.skippedByteCount} bytes outside frames`);

  for (const frame of cut.frames) {
    const fields = profile.fields.filter(
      (field) => field.when === null || frame[field.when.at] === field.when.is,
    );
    const short = fields.find((field) => field.at + numberSizes[field.type] * field.count > frame.length);
    if (short !== undefined) {
      discards.push(`a frame of ${frame.length} bytes is too short for ${short.gives} at ${short.at}`);
      continue;
    }
    const counterField = fields.find((field) => field.gives === 'counter');
    if (counterField !== undefined) {
      const counter = rawValue(counterField, frame, 0);
      const span = 2 ** bitCount(counterField);
      const step = lastCounter === null ? 1 : (counter - lastCounter + span) % span;
      lastCounter = counter;
      if (step === 0) {
        repeated += 1;
        discards.push('a frame came twice');
        continue;
      }
      missed += step - 1;
    }
    frames += 1;
    const reasons = profileFlags.filter((flag) =>
      fields.some((field) => field.gives === flag && rawValue(field, frame, 0) !== 0),
    );
    for (const field of fields) {
      if (field.gives === 'counter' || isFlag(field.gives)) continue;
      for (let index = 0; index < field.count; index += 1) {
        const raw = rawValue(field, frame, index);
        const value = field.invalid.includes(raw) ? null : raw * field.scale + field.offset;
        if (field.gives === 'pleth') {
          rateHz = field.rateHz;
          waveform.push({ value, reasons });
          continue;
        }
        if (value === null || isPlaceholder(field.gives, value)) {
          missing.push({ channel: field.gives, atMs, sensorId, reasons });
          continue;
        }
        const own = doubt(field.gives, value);
        const all = own === null || reasons.includes(own as never) ? reasons : [...reasons, own];
        const before = samples.findLast((sample) => sample.channel === field.gives);
        // Several frames of one notification mostly say the same again; at one time that is one reading.
        if (before !== undefined && before.value === value && before.reasons.join() === all.join()) continue;
        samples.push({
          channel: field.gives,
          atMs,
          value,
          sensorId,
          quality: qualityOf(field.gives, value, all),
          reasons: all,
        });
      }
    }
  }

  let { plethAtMs } = state;
  if (waveform.length > 0 && rateHz !== null) {
    const span = waveform.length * (1_000 / rateHz);
    const lastMs = plethEnd(plethAtMs, span, atMs);
    const contiguous = plethAtMs !== null && lastMs - plethAtMs <= span * 2;
    const stepMs = contiguous ? (lastMs - plethAtMs!) / waveform.length : 1_000 / rateHz;
    for (const [index, { value, reasons }] of waveform.entries()) {
      const sampleAtMs = lastMs - (waveform.length - 1 - index) * stepMs;
      if (value === null || sampleAtMs < 0) continue;
      samples.push({
        channel: 'pleth',
        atMs: monotonicMs(sampleAtMs),
        value,
        sensorId,
        quality: qualityOf('pleth', value, reasons),
        reasons,
      });
    }
    plethAtMs = lastMs;
  }

  return {
    state: {
      pending: cut.pending,
      pendingAtMs: atMs,
      lastCounter,
      plethAtMs,
      counts: {
        frames,
        damaged: state.counts.damaged + cut.damagedCount,
        skippedBytes: state.counts.skippedBytes + cut.skippedByteCount,
        missed,
        repeated,
      },
    },
    samples,
    missing,
    discards,
  };
}

/** The rest of a frame comes with the next notification or never. Common practice, no source. */
const staleAfterMs = 1_500;

/** Arrival off by more than this from where the rate puts it means a gap, not jitter. Common practice, no source. */
const plethGapMs = 300;

/**
 * Time of a notification's last waveform sample. The rate carries the clock, arrival corrects a tenth of what they
 * differ, so the trace neither drifts nor shows the radio's jitter. Never later than the arrival.
 */
function plethEnd(beforeMs: number | null, spanMs: number, arrivedAtMs: number): number {
  if (beforeMs === null) return arrivedAtMs;
  const predictedMs = beforeMs + spanMs;
  const errorMs = arrivedAtMs - predictedMs;
  if (Math.abs(errorMs) > plethGapMs) return arrivedAtMs;
  const correctionMs = Math.max(-0.2 * spanMs, Math.min(0.2 * spanMs, 0.1 * errorMs));
  return Math.min(arrivedAtMs, predictedMs + correctionMs);
}

function rawValue(field: ProfileField, frame: Uint8Array, index: number): number {
  const at = field.at + numberSizes[field.type] * index;
  const view = new DataView(frame.buffer, frame.byteOffset, frame.byteLength);
  const raw = readNumber(view, at, field.type);
  if (field.bits === null) return raw;
  const [low, high] = field.bits;
  // 32-bit fields exceed what JavaScript's bit operators hold, so this divides instead.
  return (
    Math.floor((raw < 0 ? raw + 2 ** (8 * numberSizes[field.type]) : raw) / 2 ** low) % 2 ** (high - low + 1)
  );
}

function readNumber(view: DataView, at: number, type: ProfileField['type']): number {
  switch (type) {
    case 'u8':
      return view.getUint8(at);
    case 'i8':
      return view.getInt8(at);
    case 'u16le':
      return view.getUint16(at, true);
    case 'u16be':
      return view.getUint16(at);
    case 'i16le':
      return view.getInt16(at, true);
    case 'i16be':
      return view.getInt16(at);
    case 'u32le':
      return view.getUint32(at, true);
    case 'u32be':
      return view.getUint32(at);
  }
}

const bitCount = (field: ProfileField): number =>
  field.bits === null ? 8 * numberSizes[field.type] : field.bits[1] - field.bits[0] + 1;

const isFlag = (gives: ProfileField['gives']): gives is (typeof profileFlags)[number] =>
  (profileFlags as readonly string[]).includes(gives);

/** A rate of 0 is how sensors say "none yet"; so are the usual placeholders of a saturation. */
function isPlaceholder(channel: ProfileField['gives'], value: number): boolean {
  if (channel === 'spo2Percent')
    return (readingLimits.placeholderPercents as readonly number[]).includes(value);
  return (channel === 'pulseRateBpm' || channel === 'heartRateBpm') && value === 0;
}

function doubt(channel: ProfileField['gives'], value: number): QualityReason | null {
  switch (channel) {
    case 'spo2Percent':
      return value > 100 || value < readingLimits.doubtfulBelowSpo2Percent ? 'outOfRange' : null;
    case 'pulseRateBpm':
    case 'heartRateBpm':
      return value < readingLimits.leastHeartRateBpm || value > readingLimits.mostHeartRateBpm
        ? 'outOfRange'
        : null;
    case 'perfusionIndexPercent':
      if (value < 0) return 'outOfRange';
      return value < readingLimits.lowPerfusionPercent ? 'lowPerfusion' : null;
    default:
      return null;
  }
}

function qualityOf(
  channel: ProfileField['gives'],
  value: number,
  reasons: readonly QualityReason[],
): Sample['quality'] {
  if (reasons.length === 0) return 'good';
  if (reasons.includes('noContact') || reasons.includes('sensorFault')) return 'bad';
  // A low saturation is doubted, not thrown away: it may be a danger (as in the standard's decoder).
  const lowSaturation = channel === 'spo2Percent' && value >= 0 && value <= 100;
  return reasons.includes('outOfRange') && !lowSaturation ? 'bad' : 'suspect';
}
