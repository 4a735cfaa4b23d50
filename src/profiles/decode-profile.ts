// Reads the bytes of one sensor by its profile: frames to samples with their quality. Remembers what spans
// notifications (half a frame, the counter, the waveform's clock). Takes any bytes without throwing.

import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import { type MissingValue, readingLimits } from '../gatt/readings-to-samples.ts';
import type { QualityReason, Sample } from '../samples/sample.ts';
import { bitCountOf, endOf, rawValueOf } from './field-bits.ts';
import { cutFrames } from './frame-cutter.ts';
import { framingOf, type ProfileField, profileFlags, type SensorProfile } from './sensor-profile.ts';

/** What is remembered between two notifications of one sensor. */
export interface ProfileState {
  readonly pending: Uint8Array;
  /** When the newest of the pending bytes came. */
  readonly pendingAtMs: number;
  readonly lastCounter: number | null;
  /** Time of the last waveform sample; null before the first and after a gap. */
  readonly plethAtMs: number | null;
  /** Waveform samples in the last frame that had any: what each missing frame will have held. */
  readonly plethPerFrame: number;
  /** The sensor's own clock against ours; null before its first timestamp. */
  readonly clock: SensorClock | null;
  readonly counts: ProfileCounts;
}

interface SensorClock {
  /** The last timestamp, with the rounds of its counter added. */
  readonly atMs: number;
  readonly rounds: number;
  /** Ours less the sensor's, by the quickest packets so far. */
  readonly offsetMs: number;
  readonly arrivedAtMs: number;
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
  plethPerFrame: 0,
  clock: null,
  counts: { frames: 0, damaged: 0, skippedBytes: 0, missed: 0, repeated: 0 },
};

/** Why bytes of a profile's sensor did not become readings. */
export type ProfileDiscard =
  | 'unfinishedFrame'
  | 'damagedFrames'
  | 'outsideFrames'
  | 'shortFrame'
  | 'repeatedFrame';

export interface ProfileSamples {
  readonly state: ProfileState;
  /** In rising order of time within a channel. */
  readonly samples: readonly Sample[];
  readonly missing: readonly MissingValue[];
  /** Why bytes did not become readings. */
  readonly discards: readonly ProfileDiscard[];
  /** Whole per cent, where a frame told the battery's charge. */
  readonly batteryPercent: number | undefined;
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
  characteristic = profile.link.notify,
): ProfileSamples {
  const framing = framingOf(profile, characteristic);
  const isStale = state.pending.length > 0 && atMs - state.pendingAtMs > staleAfterMs;
  const pending = isStale ? initialProfileState.pending : state.pending;
  const cut =
    framing === null
      ? { pending, frames: [bytes], skippedByteCount: 0, damagedCount: 0 }
      : cutFrames(framing, pending, bytes);
  const work = new FrameReader(state, sensorId, atMs);
  if (isStale) work.discards.push('unfinishedFrame');
  if (cut.damagedCount > 0) work.discards.push('damagedFrames');
  if (cut.skippedByteCount > 0) work.discards.push('outsideFrames');
  const { fields, always } = fieldsOf(profile, characteristic);
  for (const frame of cut.frames)
    work.take(
      always ? fields : fields.filter(({ when }) => when === null || frame[when.at] === when.is),
      frame,
    );
  const plethAtMs = work.placeWaveform();
  return {
    state: {
      pending: cut.pending,
      pendingAtMs: atMs,
      lastCounter: work.lastCounter,
      plethAtMs,
      plethPerFrame: work.plethPerFrame,
      clock: work.clock,
      counts: {
        frames: work.frames,
        damaged: state.counts.damaged + cut.damagedCount,
        skippedBytes: state.counts.skippedBytes + cut.skippedByteCount,
        missed: work.missed,
        repeated: work.repeated,
      },
    },
    samples: work.samples,
    missing: work.missing,
    discards: work.discards,
    batteryPercent: work.batteryPercent,
  };
}

interface FieldsOfFrames {
  readonly fields: readonly ProfileField[];
  /** None depends on what else is in a frame. */
  readonly always: boolean;
}

/** By profile, then by characteristic: a wave is asked for many times a second. */
const fieldsKnown = new WeakMap<SensorProfile, Map<string, FieldsOfFrames>>();

/** Fields that can be in the frames of a characteristic. */
function fieldsOf(profile: SensorProfile, characteristic: string): FieldsOfFrames {
  let ofProfile = fieldsKnown.get(profile);
  if (ofProfile === undefined) {
    ofProfile = new Map();
    fieldsKnown.set(profile, ofProfile);
  }
  let known = ofProfile.get(characteristic);
  if (known === undefined) {
    const fields = profile.fields.filter(({ from }) => (from ?? profile.link.notify) === characteristic);
    known = { fields, always: fields.every(({ when }) => when === null) };
    ofProfile.set(characteristic, known);
  }
  return known;
}

const noReasons: readonly QualityReason[] = [];

/** What the frames of one notification come to. Lives for one call of `decodeProfile`. */
class FrameReader {
  readonly samples: Sample[] = [];
  readonly missing: MissingValue[] = [];
  readonly discards: ProfileDiscard[] = [];
  lastCounter: number | null;
  plethPerFrame: number;
  clock: SensorClock | null;
  frames: number;
  missed: number;
  repeated: number;
  batteryPercent: number | undefined;
  readonly #before: ProfileState;
  readonly #sensorId: string;
  readonly #arrivedAtMs: MonotonicMs;
  /** Waveform samples, and where each stands in the notification, missing frames counted in. */
  readonly #waveValues: (number | null)[] = [];
  readonly #waveReasons: (readonly QualityReason[])[] = [];
  readonly #wavePlaces: number[] = [];
  #places = 0;
  #rateHz: number | null = null;
  /** By the sensor's clock, where it has one. */
  #frameAtMs: MonotonicMs;

  constructor(state: ProfileState, sensorId: string, arrivedAtMs: MonotonicMs) {
    this.#before = state;
    this.#sensorId = sensorId;
    this.#arrivedAtMs = arrivedAtMs;
    this.#frameAtMs = arrivedAtMs;
    this.lastCounter = state.lastCounter;
    this.plethPerFrame = state.plethPerFrame;
    this.clock = state.clock;
    this.frames = state.counts.frames;
    this.missed = state.counts.missed;
    this.repeated = state.counts.repeated;
  }

  take(fields: readonly ProfileField[], frame: Uint8Array): void {
    const short = fields.find((field) => endOf(field) > frame.length);
    if (short !== undefined) {
      this.discards.push('shortFrame');
      return;
    }
    if (!this.#count(fields, frame)) return;
    this.#tellTime(fields, frame);
    this.frames += 1;
    const reasons = reasonsIn(fields, frame);
    let inFrame = 0;
    for (const field of fields) {
      if (field.gives === 'counter' || field.gives === 'timestamp' || isFlag(field.gives)) continue;
      for (let index = 0; index < field.count; index += 1) {
        const raw = rawValueOf(field, frame, index);
        const value = field.invalid.includes(raw) ? null : raw * field.scale + field.offset;
        if (field.gives === 'pleth') {
          this.#rateHz = field.rateHz;
          this.#waveValues.push(value);
          this.#waveReasons.push(reasons);
          this.#wavePlaces.push(this.#places);
          this.#places += 1;
          inFrame += 1;
        } else if (field.gives === 'batteryPercent') {
          if (value !== null && value >= 0 && value <= 100) this.batteryPercent = Math.round(value);
        } else {
          this.#takeReading(field.gives, value, reasons);
        }
      }
    }
    if (inFrame > 0) this.plethPerFrame = inFrame;
  }

  /** Follows the counter; false for a frame that came before. Missing frames leave their room in the waveform. */
  #count(fields: readonly ProfileField[], frame: Uint8Array): boolean {
    const field = fields.find(({ gives }) => gives === 'counter');
    if (field === undefined) return true;
    const counter = rawValueOf(field, frame, 0);
    const span = 2 ** bitCountOf(field);
    const step = this.lastCounter === null ? 1 : (counter - this.lastCounter + span) % span;
    this.lastCounter = counter;
    if (step === 0) {
      this.repeated += 1;
      this.discards.push('repeatedFrame');
      return false;
    }
    this.missed += step - 1;
    this.#places += (step - 1) * this.plethPerFrame;
    return true;
  }

  /** The sensor's own time, brought onto ours: no packet is quicker than the air, so the quickest tells the distance. */
  #tellTime(fields: readonly ProfileField[], frame: Uint8Array): void {
    const field = fields.find(({ gives }) => gives === 'timestamp');
    if (field === undefined) return;
    const roundMs = 2 ** bitCountOf(field) * field.scale;
    const toldMs = rawValueOf(field, frame, 0) * field.scale;
    const before = this.clock;
    const arrivedAtMs = this.#arrivedAtMs;
    let rounds = before?.rounds ?? 0;
    if (before !== null && toldMs + rounds * roundMs < before.atMs - roundMs / 2) rounds += 1;
    const clockMs = toldMs + rounds * roundMs;
    const loosened =
      before === null ? Infinity : before.offsetMs + clockDriftShare * (arrivedAtMs - before.arrivedAtMs);
    const direct = arrivedAtMs - clockMs;
    // Far off, the sensor's clock has been set anew.
    const offsetMs = direct - loosened > clockResetMs ? direct : Math.min(loosened, direct);
    this.clock = { atMs: clockMs, rounds, offsetMs, arrivedAtMs };
    this.#frameAtMs = monotonicMs(Math.max(0, Math.min(arrivedAtMs, clockMs + offsetMs)));
  }

  #takeReading(
    channel: Exclude<Sample['channel'], 'rrIntervalMs' | 'pleth'>,
    value: number | null,
    reasons: readonly QualityReason[],
  ): void {
    const atMs = this.#frameAtMs;
    const sensorId = this.#sensorId;
    if (value === null || isPlaceholder(channel, value)) {
      this.missing.push({ channel, atMs, sensorId, reasons });
      return;
    }
    const own = doubt(channel, value);
    const all = own === null || reasons.includes(own as never) ? reasons : [...reasons, own];
    const before = this.samples.findLast((sample) => sample.channel === channel);
    // Several frames of one notification mostly say the same again; at one time that is one reading.
    const isSame = before !== undefined && before.value === value && before.reasons.join() === all.join();
    if (isSame && before.atMs === atMs) return;
    if (isSame && this.clock === null) return;
    this.samples.push({
      channel,
      atMs,
      value,
      sensorId,
      quality: qualityOf(channel, value, all),
      reasons: all,
    });
  }

  /** Puts the waveform on the time line; answers the time of its last sample. */
  placeWaveform(): number | null {
    const before = this.#before.plethAtMs;
    const values = this.#waveValues;
    if (values.length === 0 || this.#rateHz === null) return before;
    const usualMs = 1_000 / this.#rateHz;
    const spanMs = this.#places * usualMs;
    const lastMs = this.clock === null ? plethEnd(before, spanMs, this.#arrivedAtMs) : this.#frameAtMs;
    const isContiguous = before !== null && lastMs - before <= spanMs * 2;
    const stepMs = isContiguous ? (lastMs - before) / this.#places : usualMs;
    const lastPlace = this.#wavePlaces[values.length - 1]!;
    for (let i = 0; i < values.length; i += 1) {
      const value = values[i] ?? null;
      const reasons = this.#waveReasons[i]!;
      const sampleAtMs = lastMs - (lastPlace - this.#wavePlaces[i]!) * stepMs;
      if (value === null || sampleAtMs < 0) continue;
      this.samples.push({
        channel: 'pleth',
        atMs: monotonicMs(sampleAtMs),
        value,
        sensorId: this.#sensorId,
        quality: qualityOf('pleth', value, reasons),
        reasons,
      });
    }
    return lastMs;
  }
}

/** A sensor's clock runs within this of ours, and one that differs by more than this has been set anew. Our choice. */
const clockDriftShare = 0.0001;
const clockResetMs = 5_000;

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

/** The conditions that the frame says are true, in the order of `profileFlags`. */
function reasonsIn(fields: readonly ProfileField[], frame: Uint8Array): readonly QualityReason[] {
  let said = noReasons;
  for (const field of fields)
    if (isFlag(field.gives) && (rawValueOf(field, frame, 0) !== 0) !== (field.inverted ?? false))
      said = [...said, field.gives];
  return said.length < 2 ? said : profileFlags.filter((flag) => said.includes(flag));
}

const isFlag = (gives: ProfileField['gives']): gives is (typeof profileFlags)[number] =>
  (profileFlags as readonly string[]).includes(gives);

/** A rate of 0 is how sensors say "none yet"; so are the usual placeholders of a saturation. */
function isPlaceholder(channel: Sample['channel'], value: number): boolean {
  if (channel === 'spo2Percent')
    return (readingLimits.placeholderPercents as readonly number[]).includes(value);
  return (channel === 'pulseRateBpm' || channel === 'heartRateBpm') && value === 0;
}

function doubt(channel: Sample['channel'], value: number): QualityReason | null {
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
  channel: Sample['channel'],
  value: number,
  reasons: readonly QualityReason[],
): Sample['quality'] {
  if (reasons.length === 0) return 'good';
  if (reasons.includes('noContact') || reasons.includes('sensorFault')) return 'bad';
  // A low saturation is doubted, not thrown away: it may be a danger (as in the standard's decoder).
  const lowSaturation = channel === 'spo2Percent' && value >= 0 && value <= 100;
  return reasons.includes('outOfRange') && !lowSaturation ? 'bad' : 'suspect';
}
