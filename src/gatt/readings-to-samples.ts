// From a decoded reading and its arrival time to samples with their quality: the rules of trust, in one place.

import type { Channel, SampleQuality } from '../../shared/schema-parts.ts';
import type { MonotonicMs } from '../../shared/units.ts';
import { monotonicMs } from '../../shared/units.ts';
import type { QualityReason, Sample } from '../samples/sample.ts';
import type { Reading } from './decode-packet.ts';
import type { HeartRateMeasurement } from './heart-rate-measurement.ts';
import type { PlxValues } from './plx-continuous.ts';
import type { DeviceStatus, MeasurementStatus } from './plx-status.ts';
import type { Sfloat } from './sfloat.ts';

/** A notification that came but said nothing usable on a channel; there is no number to put in a sample. */
export interface MissingValue {
  readonly channel: Channel;
  readonly atMs: MonotonicMs;
  readonly sensorId: string;
  readonly reasons: readonly QualityReason[];
}

export interface ReadingSamples {
  /** In rising order of time; samples at the same time in no order of meaning. */
  readonly samples: readonly Sample[];
  readonly missing: readonly MissingValue[];
  /** The normal saturation beside the fast one that `samples` has, where a pulse oximeter sends both. */
  readonly averagedSpo2?: Sample;
}

type Verdict = readonly [SampleQuality, QualityReason];

/** Project rule over PLXS v1.0.1 Table 3.4: bits 9, 10, 11, 13, 15 are not a live measurement; 6, 12, 14 doubtful. */
const measurementVerdicts: Readonly<Partial<Record<MeasurementStatus, Verdict>>> = {
  earlyEstimate: ['suspect', 'earlyEstimate'],
  fromStorage: ['bad', 'fromStorage'],
  demonstration: ['bad', 'demoData'],
  testing: ['bad', 'demoData'],
  calibrationOngoing: ['suspect', 'calibrationOngoing'],
  unavailable: ['bad', 'notQualified'],
  questionable: ['suspect', 'questionable'],
  invalid: ['bad', 'notQualified'],
};

/** Project rule over PLXS v1.0.1 Table 3.5. */
const deviceVerdicts: Readonly<Record<DeviceStatus, Verdict>> = {
  extendedDisplayUpdate: ['suspect', 'stuckValue'],
  equipmentMalfunction: ['bad', 'sensorFault'],
  signalProcessingIrregularity: ['suspect', 'poorSignal'],
  inadequateSignal: ['bad', 'poorSignal'],
  poorSignal: ['suspect', 'poorSignal'],
  lowPerfusion: ['suspect', 'lowPerfusion'],
  erraticSignal: ['suspect', 'poorSignal'],
  nonPulsatileSignal: ['bad', 'poorSignal'],
  questionablePulse: ['suspect', 'questionable'],
  signalAnalysisOngoing: ['suspect', 'earlyEstimate'],
  sensorInterference: ['suspect', 'poorSignal'],
  sensorUnconnectedToUser: ['bad', 'noContact'],
  unknownSensor: ['suspect', 'sensorFault'],
  sensorDisplaced: ['suspect', 'noContact'],
  sensorMalfunctioning: ['bad', 'sensorFault'],
  sensorDisconnected: ['bad', 'sensorDisconnected'],
};

export const readingLimits = {
  /** Below 1 % perfusion more hypoxaemia is missed (Anesth Analg 2024;138:552; doi:10.1213/ANE.0000000000006755). */
  lowPerfusionPercent: 1,
  /**
   * Lowest saturations and rates seen in elite divers are 44 % and 28 /min (Front Physiol 2021;12:651128), so readings
   * down to 40 % and 25 /min may be real. Below 40 % a reading is doubtful, not thrown away: it may still be a danger.
   */
  doubtfulBelowSpo2Percent: 40,
  leastHeartRateBpm: 25,
  mostHeartRateBpm: 250,
  /** 60 000 / 250 and 60 000 / 25, in ms. */
  leastRrIntervalMs: 240,
  mostRrIntervalMs: 2_400,
  /** Common placeholders for "no value" outside the standard, which has NaN for it (PLXS v1.0.1 s3.2.1.2). */
  placeholderPercents: [0, 127, 255],
} as const;

const noReasons: readonly never[] = [];
const nothing: ReadingSamples = { samples: noReasons, missing: noReasons };

/**
 * Samples of one reading that arrived at `arrivedAtMs`. Readings that are not measurements give none.
 *
 * An RR interval's time is the beat that ends it: one of `beatTimesMs` (src/signal/beat-timeline.ts) for each interval.
 * Without them the last interval of a notification is placed at arrival and the earlier ones before it, which is up to
 * a notification's spacing late.
 */
export function readingToSamples(
  reading: Reading,
  sensorId: string,
  arrivedAtMs: MonotonicMs,
  beatTimesMs?: readonly number[],
): ReadingSamples {
  switch (reading.kind) {
    case 'heartRate':
      return heartRateSamples(reading.measurement, sensorId, arrivedAtMs, beatTimesMs);
    case 'plxContinuous': {
      const { normal, fast, measurementStatus, deviceStatus, pulseAmplitudeIndex } = reading.measurement;
      // Less averaging shows a fall sooner and deeper (Farre 1998, Sleep 21:386).
      const isFast = fast !== undefined && isSaturation(fast.spo2Percent);
      const spo2Percent = isFast ? fast.spo2Percent : normal.spo2Percent;
      const pulseRateBpm = typeof fast?.pulseRateBpm === 'number' ? fast.pulseRateBpm : normal.pulseRateBpm;
      const said = measurementStatus ?? noReasons;
      const device = deviceStatus ?? noReasons;
      const values = { spo2Percent, pulseRateBpm };
      const answer = plxSamples(values, said, device, pulseAmplitudeIndex, sensorId, arrivedAtMs);
      if (!isFast || !isSaturation(normal.spo2Percent)) return answer;
      const averaged = plxSamples(normal, said, device, pulseAmplitudeIndex, sensorId, arrivedAtMs);
      const averagedSpo2 = averaged.samples.find(({ channel }) => channel === 'spo2Percent');
      return averagedSpo2 === undefined ? answer : { ...answer, averagedSpo2 };
    }
    case 'plxSpotCheck': {
      const { values, measurementStatus, deviceStatus, pulseAmplitudeIndex } = reading.measurement;
      return plxSamples(
        values,
        measurementStatus ?? noReasons,
        deviceStatus ?? noReasons,
        pulseAmplitudeIndex,
        sensorId,
        arrivedAtMs,
      );
    }
    default:
      return nothing;
  }
}

function heartRateSamples(
  measurement: HeartRateMeasurement,
  sensorId: string,
  arrivedAtMs: MonotonicMs,
  beatTimesMs: readonly number[] | undefined,
): ReadingSamples {
  const samples: Sample[] = [];
  const missing: MissingValue[] = [];
  const noContact = measurement.skinContact === false;
  const contactReasons: readonly QualityReason[] = noContact ? ['noContact'] : noReasons;
  const { heartRateBpm, rrIntervalsMs } = measurement;
  let counted: number = arrivedAtMs;
  const intervals: Sample[] = [];
  for (let i = rrIntervalsMs.length - 1; i >= 0; i -= 1) {
    const rrIntervalMs = rrIntervalsMs[i]!;
    const beatAtMs = beatTimesMs?.[i] ?? counted;
    // A beat from before the session's zero has no place on its timeline; its bytes are recorded all the same.
    if (beatAtMs < 0) break;
    const possible =
      rrIntervalMs >= readingLimits.leastRrIntervalMs && rrIntervalMs <= readingLimits.mostRrIntervalMs;
    intervals.push({
      channel: 'rrIntervalMs',
      atMs: monotonicMs(beatAtMs),
      value: rrIntervalMs,
      sensorId,
      quality: noContact || !possible ? 'bad' : 'good',
      reasons: possible ? contactReasons : [...contactReasons, 'outOfRange'],
    });
    counted -= rrIntervalMs;
  }
  samples.push(...intervals.reverse());
  if (heartRateBpm === 0) {
    missing.push({ channel: 'heartRateBpm', atMs: arrivedAtMs, sensorId, reasons: contactReasons });
  } else {
    const possible =
      heartRateBpm >= readingLimits.leastHeartRateBpm && heartRateBpm <= readingLimits.mostHeartRateBpm;
    samples.push({
      channel: 'heartRateBpm',
      atMs: arrivedAtMs,
      value: heartRateBpm,
      sensorId,
      quality: noContact || !possible ? 'bad' : 'good',
      reasons: possible ? contactReasons : [...contactReasons, 'outOfRange'],
    });
  }
  return { samples, missing };
}

function plxSamples(
  values: PlxValues,
  measurementStatus: readonly MeasurementStatus[],
  deviceStatus: readonly DeviceStatus[],
  pulseAmplitudeIndex: Sfloat | undefined,
  sensorId: string,
  atMs: MonotonicMs,
): ReadingSamples {
  const samples: Sample[] = [];
  const missing: MissingValue[] = [];
  const verdicts: Verdict[] = [];
  for (let i = 0; i < measurementStatus.length; i++) {
    const status = measurementStatus[i]!;
    const verdict = measurementVerdicts[status];
    if (verdict !== undefined) verdicts.push(verdict);
  }
  for (let i = 0; i < deviceStatus.length; i++) {
    const status = deviceStatus[i]!;
    verdicts.push(deviceVerdicts[status]);
  }
  if (
    typeof pulseAmplitudeIndex === 'number' &&
    pulseAmplitudeIndex < readingLimits.lowPerfusionPercent &&
    !deviceStatus.includes('lowPerfusion')
  ) {
    verdicts.push(['suspect', 'lowPerfusion']);
  }
  const given = { samples, missing, verdicts, sensorId, atMs };
  addValue(given, 'spo2Percent', values.spo2Percent, spo2Verdict(values.spo2Percent));
  addValue(given, 'pulseRateBpm', values.pulseRateBpm, pulseVerdict(values.pulseRateBpm));
  // The index judges the others; it is absent, not missing, where the sensor does not offer it.
  if (typeof pulseAmplitudeIndex === 'number') {
    addValue(
      given,
      'perfusionIndexPercent',
      pulseAmplitudeIndex,
      pulseAmplitudeIndex < 0 ? ['bad', 'outOfRange'] : undefined,
    );
  }
  return { samples, missing };
}

/** One value with what is said of all values of its packet and, with `own`, of it alone. */
function addValue(
  { samples, missing, verdicts, sensorId, atMs }: GivenValues,
  channel: Channel,
  value: Sfloat,
  own: Verdict | 'missing' | undefined,
): void {
  const all = own === undefined || own === 'missing' ? verdicts : [...verdicts, own];
  const reasons = all.length === 0 ? noReasons : [...new Set(all.map(([, reason]) => reason))];
  if (own === 'missing' || typeof value !== 'number') {
    missing.push({ channel, atMs, sensorId, reasons });
    return;
  }
  samples.push({ channel, atMs, value, sensorId, quality: worst(all), reasons });
}

interface GivenValues {
  readonly samples: Sample[];
  readonly missing: MissingValue[];
  readonly verdicts: readonly Verdict[];
  readonly sensorId: string;
  readonly atMs: MonotonicMs;
}

/** A number that can be a saturation, flags aside. */
function isSaturation(value: Sfloat): boolean {
  const verdict = spo2Verdict(value);
  return verdict === undefined || (verdict !== 'missing' && verdict[0] !== 'bad');
}

function spo2Verdict(value: Sfloat): Verdict | 'missing' | undefined {
  if (typeof value !== 'number') return 'missing';
  if ((readingLimits.placeholderPercents as readonly number[]).includes(value)) return 'missing';
  if (value < 0 || value > 100) return ['bad', 'outOfRange'];
  return value < readingLimits.doubtfulBelowSpo2Percent ? ['suspect', 'outOfRange'] : undefined;
}

function pulseVerdict(value: Sfloat): Verdict | 'missing' | undefined {
  if (typeof value !== 'number' || value === 0) return 'missing';
  return value < readingLimits.leastHeartRateBpm || value > readingLimits.mostHeartRateBpm
    ? ['bad', 'outOfRange']
    : undefined;
}

function worst(verdicts: readonly Verdict[]): SampleQuality {
  let quality: SampleQuality = 'good';
  for (const [verdict] of verdicts) {
    if (verdict === 'bad') return 'bad';
    quality = 'suspect';
  }
  return quality;
}
