// Reads the bytes of one sensor by its profile: frames to samples with their quality. Remembers what spans
// notifications (half a frame, the counter, the waveform's clock). Takes any bytes without throwing.

import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import { type MissingValue, readingLimits } from '../gatt/readings-to-samples.ts';
import type { QualityReason, Sample } from '../samples/sample.ts';
import { bitCountOf, countIn, endOf, rawValueOf } from './field-bits.ts';
import { cutFrames } from './frame-cutter.ts';
import {
  framingOf,
  isWave,
  type ProfileField,
  type ProfileWave,
  profileFlags,
  profileSources,
  type SensorProfile,
} from './sensor-profile.ts';

/** What is remembered between two notifications of one sensor. */
export interface ProfileState {
  readonly pending: Uint8Array;
  /** When the newest of the pending bytes came. */
  readonly pendingAtMs: number;
  readonly lastCounter: number | null;
  readonly waves: Readonly<Partial<Record<ProfileWave, WaveClock>>>;
  /** Conditions told by frames without readings. One sensor's characteristics share them. */
  readonly standing: readonly ProfileFlag[];
  /** The sensor's own clock against ours; null before its first timestamp. */
  readonly clock: SensorClock | null;
  readonly counts: ProfileCounts;
}

type ProfileFlag = (typeof profileFlags)[number];

interface WaveClock {
  /** Time of the last sample. */
  readonly atMs: number;
  /** Samples in the last frame that had any: what each missing frame will have held. */
  readonly perFrame: number;
  /** Arrival of the first of those packets that come late though the counter misses none; null where they come in time. */
  readonly heldUpSinceMs: number | null;
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
  waves: {},
  standing: [],
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
  /** Samples of waves from which a channel is yet to be worked out; in rising order of time within each. */
  readonly sources: readonly SourceSample[];
  /** Intervals between beats, oldest first, whose place in time is yet to be found. */
  readonly beats: readonly ProfileBeat[];
  /** Why bytes did not become readings. */
  readonly discards: readonly ProfileDiscard[];
  /** Whole per cent, where a frame told the battery's charge. */
  readonly batteryPercent: number | undefined;
}

export interface SourceSample {
  readonly gives: (typeof profileSources)[number];
  readonly atMs: MonotonicMs;
  readonly value: number;
  readonly rateHz: number;
  readonly reasons: readonly QualityReason[];
}

export interface ProfileBeat {
  readonly intervalMs: number;
  readonly reasons: readonly QualityReason[];
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
  for (const frame of cut.frames) {
    const checksumBytes = framing?.checksum?.fromEnd ?? 0;
    work.take(fieldsOf(profile, characteristic, frame), frame, frame.length - checksumBytes);
  }
  work.placeWaves();
  return {
    state: {
      pending: cut.pending,
      pendingAtMs: atMs,
      lastCounter: work.lastCounter,
      waves: work.waveClocks,
      standing: work.standing,
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
    sources: work.sources,
    beats: work.beats,
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

/** The fields that a whole frame of this characteristic has. */
export function fieldsOf(
  profile: SensorProfile,
  characteristic: string,
  frame: Uint8Array,
): readonly ProfileField[] {
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
  return known.always
    ? known.fields
    : known.fields.filter(({ when }) => when === null || isFrameOf(when, frame));
}

const isFrameOf = ({ at, is, mask = 0xff }: NonNullable<ProfileField['when']>, frame: Uint8Array): boolean =>
  at < frame.length && (frame[at]! & mask) === is;

interface Wave {
  readonly rateHz: number;
  readonly values: (number | null)[];
  readonly reasons: (readonly QualityReason[])[];
  /** Where each sample stands in the notification, missing frames counted in. */
  readonly at: number[];
  places: number;
}

/** What the frames of one notification come to. Lives for one call of `decodeProfile`. */
class FrameReader {
  readonly samples: Sample[] = [];
  readonly missing: MissingValue[] = [];
  readonly discards: ProfileDiscard[] = [];
  lastCounter: number | null;
  waveClocks: Readonly<Partial<Record<ProfileWave, WaveClock>>>;
  standing: readonly ProfileFlag[];
  readonly sources: SourceSample[] = [];
  readonly beats: ProfileBeat[] = [];
  clock: SensorClock | null;
  frames: number;
  missed: number;
  repeated: number;
  batteryPercent: number | undefined;
  readonly #sensorId: string;
  readonly #arrivedAtMs: MonotonicMs;
  readonly #waves = new Map<ProfileWave, Wave>();
  /** Frames missing before the first sample of a wave, by the counter. */
  #missedBefore = 0;
  /** Frames after which the counter begins anew; 0 where none counts. */
  #counterRound = 0;
  /** By the sensor's clock, where it has one. */
  #frameAtMs: MonotonicMs;

  constructor(state: ProfileState, sensorId: string, arrivedAtMs: MonotonicMs) {
    this.#sensorId = sensorId;
    this.#arrivedAtMs = arrivedAtMs;
    this.#frameAtMs = arrivedAtMs;
    this.lastCounter = state.lastCounter;
    this.waveClocks = state.waves;
    this.standing = state.standing;
    this.clock = state.clock;
    this.frames = state.counts.frames;
    this.missed = state.counts.missed;
    this.repeated = state.counts.repeated;
  }

  /** `bodyEnd`: where the checksum begins, or the frame's end. */
  take(fields: readonly ProfileField[], frame: Uint8Array, bodyEnd: number): void {
    const short = fields.find((field) => endOf(field) > frame.length);
    if (short !== undefined) {
      this.discards.push('shortFrame');
      return;
    }
    if (!this.#count(fields, frame)) return;
    this.#tellTime(fields, frame);
    this.frames += 1;
    const reasons = this.#conditions(fields, frame);
    for (const field of fields) {
      if (field.gives === 'counter' || field.gives === 'timestamp' || isFlag(field.gives)) continue;
      const count = countIn(field, bodyEnd);
      for (let index = 0; index < count; index += 1) {
        const raw = rawValueOf(field, frame, index);
        const value = field.invalid.includes(raw) ? null : raw * field.scale + field.offset;
        this.#takeValue(field, value, reasons);
      }
      if (isWave(field.gives) && field.rateHz !== null && count > 0) {
        const { atMs = Number.NaN, heldUpSinceMs = null } = this.waveClocks[field.gives] ?? {};
        this.waveClocks = { ...this.waveClocks, [field.gives]: { atMs, perFrame: count, heldUpSinceMs } };
      }
    }
  }

  /** What this frame says of the sensor, with what frames that hold no reading have said before. */
  #conditions(fields: readonly ProfileField[], frame: Uint8Array): readonly ProfileFlag[] {
    const told = fields.filter(({ gives }) => isFlag(gives));
    const found = profileFlags.filter((flag) =>
      told.some((field) => field.gives === flag && isTrue(field, rawValueOf(field, frame, 0))),
    );
    const holdsReading = fields.some(({ gives }) => !isFlag(gives) && !isAside(gives));
    if (holdsReading || told.length === 0)
      return this.standing.length === 0
        ? found
        : profileFlags.filter((flag) => found.includes(flag) || this.standing.includes(flag));
    const others = this.standing.filter((flag) => !told.some(({ gives }) => gives === flag));
    this.standing = [...others, ...found];
    return this.standing;
  }

  #takeValue(field: ProfileField, value: number | null, reasons: readonly ProfileFlag[]): void {
    const { gives, rateHz } = field;
    if (isWave(gives) && rateHz !== null) {
      const wave = this.#waves.get(gives) ?? {
        rateHz,
        values: [],
        reasons: [],
        at: [],
        places: this.#roomBefore(gives),
      };
      this.#waves.set(gives, wave);
      wave.values.push(value);
      wave.reasons.push(reasons);
      wave.at.push(wave.places);
      wave.places += 1;
    } else if (gives === 'batteryPercent') {
      if (value !== null && value >= 0 && value <= 100) this.batteryPercent = Math.round(value);
    } else if (gives === 'rrIntervalMs') {
      if (value !== null && value > 0) this.beats.push({ intervalMs: value, reasons });
    } else if (isReading(gives)) {
      this.#takeReading(gives, value, reasons);
    }
  }

  #roomBefore(gives: ProfileWave): number {
    return this.#missedBefore * (this.waveClocks[gives]?.perFrame ?? 0);
  }

  /** Follows the counter; false for a frame that came before. Missing frames leave their room in the waveform. */
  #count(fields: readonly ProfileField[], frame: Uint8Array): boolean {
    const field = fields.find(({ gives }) => gives === 'counter');
    if (field === undefined) return true;
    const counter = rawValueOf(field, frame, 0);
    const span = 2 ** bitCountOf(field);
    this.#counterRound = span;
    const step = this.lastCounter === null ? 1 : (counter - this.lastCounter + span) % span;
    this.lastCounter = counter;
    if (step === 0) {
      this.repeated += 1;
      this.discards.push('repeatedFrame');
      return false;
    }
    this.missed += step - 1;
    this.#missedBefore += step - 1;
    for (const [gives, wave] of this.#waves)
      wave.places += (step - 1) * (this.waveClocks[gives]?.perFrame ?? 0);
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

  #takeReading(channel: Reading, value: number | null, reasons: readonly QualityReason[]): void {
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
    if (isSame && (before.atMs === atMs || this.clock === null)) return;
    this.samples.push({
      channel,
      atMs,
      value,
      sensorId,
      quality: qualityOf(channel, value, all),
      reasons: all,
    });
  }

  /** Puts the waves on the time line. */
  placeWaves(): void {
    for (const [gives, wave] of this.#waves) this.#placeWave(gives, wave);
  }

  #placeWave(gives: ProfileWave, { rateHz, values, reasons: said, at, places }: Wave): void {
    const known = this.waveClocks[gives];
    const before = known === undefined || Number.isNaN(known.atMs) ? null : known.atMs;
    const usualMs = 1_000 / rateHz;
    const spanMs = places * usualMs;
    const perFrame = known?.perFrame ?? 0;
    const late = {
      sinceMs: known?.heldUpSinceMs ?? null,
      countedMs: (this.#counterRound * perFrame * usualMs) / 2,
    };
    const { atMs: lastMs, heldUpSinceMs } =
      this.clock === null
        ? waveEnd(before, spanMs, this.#arrivedAtMs, late)
        : { atMs: this.#frameAtMs, heldUpSinceMs: null };
    const isContiguous = before !== null && lastMs - before <= spanMs * 2;
    const stepMs = isContiguous ? (lastMs - before) / places : usualMs;
    const lastPlace = at.at(-1)!;
    for (let i = 0; i < values.length; i += 1) {
      const value = values[i] ?? null;
      const reasons = said[i]!;
      const sampleAtMs = lastMs - (lastPlace - at[i]!) * stepMs;
      if (value === null || sampleAtMs < 0) continue;
      const atMs = monotonicMs(sampleAtMs);
      if (isSource(gives)) {
        this.sources.push({ gives, atMs, value, rateHz, reasons });
        continue;
      }
      const quality = qualityOf(gives, value, reasons);
      this.samples.push({ channel: gives, atMs, value, sensorId: this.#sensorId, quality, reasons });
    }
    this.waveClocks = { ...this.waveClocks, [gives]: { atMs: lastMs, perFrame, heldUpSinceMs } };
  }
}

/** A sensor's clock runs within this of ours, and one that differs by more than this has been set anew. Our choice. */
const clockDriftShare = 0.0001;
const clockResetMs = 5_000;

/** The rest of a frame comes with the next notification or never. Common practice, no source. */
const staleAfterMs = 1_500;

/** Arrival off by more than this from where the rate puts it means a gap, not jitter. Common practice, no source. */
const waveGapMs = 300;

/**
 * Packets that a radio held up come in one burst once it is free. Those of a sensor that stood still, and counts only what it
 * sends, stay late: after this long they are placed by arrival again. Our choice: a burst of 5 s takes well under a second.
 */
const heldUpForMs = 2_000;

/** `countedMs`: how late a packet can be for its counter to say that none is missing; 0 without one. */
interface Lateness {
  readonly sinceMs: number | null;
  readonly countedMs: number;
}

/**
 * Time of a notification's last waveform sample. The rate carries the clock, arrival corrects a tenth of what they
 * differ, so the trace neither drifts nor shows the radio's jitter. Never later than the arrival. A packet that comes late, and by the
 * counter is the next, was held up on its way: it stays where the rate puts it.
 */
function waveEnd(
  beforeMs: number | null,
  spanMs: number,
  arrivedAtMs: number,
  late: Lateness,
): { readonly atMs: number; readonly heldUpSinceMs: number | null } {
  if (beforeMs === null) return { atMs: arrivedAtMs, heldUpSinceMs: null };
  const predictedMs = beforeMs + spanMs;
  const errorMs = arrivedAtMs - predictedMs;
  const sinceMs = late.sinceMs ?? arrivedAtMs;
  if (errorMs > waveGapMs && errorMs < late.countedMs && arrivedAtMs - sinceMs < heldUpForMs)
    return { atMs: predictedMs, heldUpSinceMs: sinceMs };
  if (Math.abs(errorMs) > waveGapMs) return { atMs: arrivedAtMs, heldUpSinceMs: null };
  const correctionMs = Math.max(-0.2 * spanMs, Math.min(0.2 * spanMs, 0.1 * errorMs));
  return { atMs: Math.min(arrivedAtMs, predictedMs + correctionMs), heldUpSinceMs: null };
}

const isFlag = (gives: ProfileField['gives']): gives is ProfileFlag =>
  (profileFlags as readonly string[]).includes(gives);
const isAside = (gives: ProfileField['gives']): boolean =>
  gives === 'counter' || gives === 'timestamp' || gives === 'batteryPercent';
const isSource = (gives: ProfileWave): gives is SourceSample['gives'] =>
  (profileSources as readonly string[]).includes(gives);

type Reading = Exclude<Sample['channel'], 'rrIntervalMs' | 'pleth'>;
/** What stands once in a frame; a wave without a rate is none. */
const isReading = (gives: ProfileField['gives']): gives is Reading =>
  !isFlag(gives) && !isAside(gives) && (!isWave(gives) || gives === 'respirationRaw');

const isTrue = (field: ProfileField, raw: number): boolean =>
  (field.is === undefined ? raw !== 0 : field.is.includes(raw)) !== (field.inverted ?? false);

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
