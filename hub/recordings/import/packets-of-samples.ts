// Imported samples as the packets a standard strap and oximeter would have sent (a wave, and beats with their times, in
// packets of our own, since the standard has none), so that everything after goes the way of a live sensor. Decoding the packets gives the samples back, each within the time its file left it.

import { type MonotonicMs, monotonicMs } from '../../../shared/units.ts';
import { decodePacket } from '../../../src/gatt/decode-packet.ts';
import { readingToSamples } from '../../../src/gatt/readings-to-samples.ts';
import {
  beatCharacteristic,
  encodeExactPacket,
  waveCharacteristic,
} from '../../../src/sessions/exact-packet.ts';
import type { ImportedSample } from '../../../src/sessions/imported-recording.ts';
import { encodeHeartRateMeasurement } from '../../sensors/simulated/encode-heart-rate-measurement.ts';
import { encodePlxContinuous } from '../../sensors/simulated/encode-plx-continuous.ts';

export interface ImportedPacket {
  readonly device: 'strap' | 'oximeter';
  readonly characteristic: '2a37' | '2a5f' | typeof waveCharacteristic | typeof beatCharacteristic;
  readonly atMs: MonotonicMs;
  readonly bytes: Uint8Array;
}

export interface ImportedPackets {
  /** In time order. */
  readonly packets: readonly ImportedPacket[];
  /** Samples that no sensor could send: numbers beyond the fields. */
  readonly leftOutCount: number;
}

interface Span {
  readonly fromMs: number;
  readonly toMs: number;
}

/** Kept off the ends of a span, so that adding up fractions of a millisecond does not fall out of it. */
const marginMs = 0.000_1;
/** SFLOAT (IEEE 11073-20601) holds 2045 in whole numbers and a tenth of that with each digit after the point. */
const mostSfloat = 2_045;
/** PLXS v1.0.1 Table 3.4. */
const statusOf = { good: undefined, suspect: 1 << 14, bad: 1 << 15 } as const;

/** `samples` in time order; a part of a recording says whether the whole of it `hasRates`. */
export function packetsOfSamples(
  samples: readonly ImportedSample[],
  hasRates = samples.some(({ channel }) => channel === 'heartRateBpm'),
): ImportedPackets {
  const of = (channel: ImportedSample['channel']) => samples.filter((sample) => sample.channel === channel);
  const strap = strapPackets(of('heartRateBpm'), of('rrIntervalMs'), hasRates);
  const oximeter = oximeterPackets(of('spo2Percent'), of('pulseRateBpm'), of('perfusionIndexPercent'));
  const wave = exactPackets('oximeter', waveCharacteristic, of('pleth'), Number.isFinite);
  return {
    packets: [...strap.packets, ...oximeter.packets, ...wave.packets].sort((a, b) => a.atMs - b.atMs),
    leftOutCount: strap.leftOutCount + oximeter.leftOutCount + wave.leftOutCount,
  };
}

/** A packet goes over no more than this, as a sensor's would: what is found in it is found in time. */
const spanMs = { [waveCharacteristic]: 250, [beatCharacteristic]: 1_000 } as const;

/** Samples whose own times and values are kept; those `isKept` refuses are left out. */
function exactPackets(
  device: ImportedPacket['device'],
  characteristic: typeof waveCharacteristic | typeof beatCharacteristic,
  samples: readonly ImportedSample[],
  isKept: (value: number) => boolean,
): ImportedPackets {
  const packets: ImportedPacket[] = [];
  let group: ImportedSample[] = [];
  const send = (): void => {
    const last = group.at(-1);
    if (last === undefined) return;
    packets.push({
      device,
      characteristic,
      atMs: monotonicMs(last.atMs),
      bytes: encodeExactPacket(group),
    });
    group = [];
  };
  let leftOutCount = 0;
  for (const sample of samples) {
    if (!isKept(sample.value) || !(sample.atMs >= 0)) {
      leftOutCount += 1;
      continue;
    }
    if (group.length > 0 && sample.atMs - group[0]!.atMs > spanMs[characteristic]) send();
    group.push(sample);
  }
  send();
  return { packets, leftOutCount };
}

/** Anything a heart can do, and what a sensor calls a beat when it loses some; the standard's field ends at 64 s. */
const isInterval = (value: number): boolean => value > 0 && value <= 63_000;

const spanOf = ({ earliestMs, latestMs }: ImportedSample): Span => ({ fromMs: earliestMs, toMs: latestMs });
const overlapOf = (a: Span, b: Span): Span => ({
  fromMs: Math.max(a.fromMs, b.fromMs),
  toMs: Math.min(a.toMs, b.toMs),
});
const isRoomy = ({ fromMs, toMs }: Span): boolean => toMs - fromMs > 2 * marginMs;

/** The sample's own time where the span allows it, else the middle of the span. */
function timeWithin({ fromMs, toMs }: Span, ownMs: number): MonotonicMs {
  const isInside = ownMs >= fromMs && ownMs < toMs - marginMs;
  return monotonicMs(Math.max(0, isInside ? ownMs : (fromMs + toMs) / 2));
}

/** Without any rate in the file, each interval gives one. */
function strapPackets(
  rates: readonly ImportedSample[],
  intervals: readonly ImportedSample[],
  hasRates: boolean,
): ImportedPackets {
  const given = hasRates
    ? rates
    : intervals
        .filter(({ value }) => isInterval(value))
        .map((interval) => ({ ...interval, value: Math.min(400, 60_000 / interval.value) }));
  const sent = given.filter(({ value }) => value >= 0.5 && value <= 65_535);
  const beats = exactPackets('strap', beatCharacteristic, intervals, isInterval);
  const packets = sent.map(
    (rate): ImportedPacket => ({
      device: 'strap',
      characteristic: '2a37',
      atMs: timeWithin(spanOf(rate), rate.atMs),
      bytes: encodeHeartRateMeasurement({
        heartRateBpm: rate.value,
        rrIntervalsMs: [],
        skinContact: contactOf(rate),
      }),
    }),
  );
  return {
    packets: [...packets, ...beats.packets],
    leftOutCount: given.length - sent.length + beats.leftOutCount,
  };
}

/** Loss of contact is how a strap says that a number is bad. */
const contactOf = ({ quality }: ImportedSample): false | undefined => (quality === 'bad' ? false : undefined);

interface OximeterGroup {
  span: Span;
  readonly atMs: number;
  readonly spo2?: ImportedSample;
  pulse?: ImportedSample;
  index?: ImportedSample;
}

function oximeterPackets(
  saturations: readonly ImportedSample[],
  pulses: readonly ImportedSample[],
  indices: readonly ImportedSample[],
): ImportedPackets {
  const packets: ImportedPacket[] = [];
  let leftOutCount = 0;
  const fits = (sample: ImportedSample): boolean => {
    const most = sample.channel === 'spo2Percent' ? mostSfloat / 10 : mostSfloat;
    const isInside = sample.value >= 0 && sample.value <= most;
    if (!isInside) leftOutCount += 1;
    return isInside;
  };
  const groups: OximeterGroup[] = saturations
    .filter(fits)
    .map((spo2) => ({ span: spanOf(spo2), atMs: spo2.atMs, spo2 }));
  /** Into the group whose time it can share, or a group of its own. */
  const join = (samples: readonly ImportedSample[], slot: 'pulse' | 'index'): void => {
    const before = groups.toSorted((a, b) => a.atMs - b.atMs);
    let at = 0;
    for (const sample of samples.filter(fits)) {
      while (at < before.length && before[at]!.span.toMs <= sample.earliestMs) at += 1;
      const group = before[at];
      const span = group === undefined ? undefined : overlapOf(group.span, spanOf(sample));
      if (group !== undefined && span !== undefined && isRoomy(span) && group[slot] === undefined) {
        group[slot] = sample;
        group.span = span;
      } else {
        groups.push({ span: spanOf(sample), atMs: sample.atMs, [slot]: sample });
      }
    }
  };
  join(pulses, 'pulse');
  join(indices, 'index');
  for (const group of groups) {
    const whole = bytesAsSaid(group);
    const parts =
      whole !== undefined
        ? [{ group, bytes: whole }]
        : (['spo2', 'pulse', 'index'] as const).flatMap((slot) => {
            const sample = group[slot];
            if (sample === undefined) return [];
            const single: OximeterGroup = { span: group.span, atMs: group.atMs, [slot]: sample };
            return [{ group: single, bytes: bytesAsSaid(single) ?? encodeGroup(single, undefined) }];
          });
    for (const { bytes } of parts)
      packets.push({
        device: 'oximeter',
        characteristic: '2a5f',
        atMs: timeWithin(group.span, group.atMs),
        bytes,
      });
  }
  return { packets, leftOutCount };
}

/** Bytes that decode to every value of the group with its quality, or undefined where one packet cannot say that. */
function bytesAsSaid(group: OximeterGroup): Uint8Array | undefined {
  const wanted = [group.spo2, group.pulse, group.index].filter((sample) => sample !== undefined);
  for (const status of [statusOf.good, statusOf.suspect, statusOf.bad]) {
    const bytes = encodeGroup(group, status);
    const decoded = decodePacket('2a5f', bytes);
    if (!decoded.ok) continue;
    const { samples } = readingToSamples(decoded.value, '', monotonicMs(0));
    const isSame = wanted.every(({ channel, quality }) =>
      samples.some((sample) => sample.channel === channel && sample.quality === quality),
    );
    if (isSame) return bytes;
  }
  return undefined;
}

function encodeGroup(
  { spo2, pulse, index }: OximeterGroup,
  measurementStatus: number | undefined,
): Uint8Array {
  return encodePlxContinuous({
    spo2Percent: spo2?.value,
    pulseRateBpm: pulse?.value,
    ...(index !== undefined && { pulseAmplitudeIndex: index.value }),
    ...(measurementStatus !== undefined && { measurementStatus }),
    decimals: 1,
    pulseDecimals: digitsFor(pulse?.value, 1),
    indexDecimals: digitsFor(index?.value, 2),
  });
}

/** As many digits after the point as fit, up to `most`. */
function digitsFor(value: number | undefined, most: number): number {
  let digits = most;
  while (digits > 0 && (value ?? 0) * 10 ** digits > mostSfloat) digits -= 1;
  return digits;
}
