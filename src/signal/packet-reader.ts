// From a sensor's bytes to its samples, for the live pipeline, reviews and exports alike: which decoder reads them, and
// what has to be remembered from one packet to the next (half a frame, counters, the beats' timeline).

import type { MonotonicMs } from '../../shared/units.ts';
import { decodePacket, type Reading } from '../gatt/decode-packet.ts';
import type { DiscardCode } from '../gatt/discard-reason.ts';
import { type MissingValue, readingToSamples } from '../gatt/readings-to-samples.ts';
import {
  decodeProfile,
  initialProfileState,
  type ProfileDiscard,
  type ProfileSamples,
  type ProfileState,
} from '../profiles/decode-profile.ts';
import type { SensorProfile } from '../profiles/sensor-profile.ts';
import { characteristicOf, profileOfStream } from '../profiles/stream-name.ts';
import type { Sample } from '../samples/sample.ts';
import { decodeExactPacket } from '../sessions/exact-packet.ts';
import { type BeatTimeline, createBeatTimeline } from './beat-timeline.ts';
import { beatSample, createProfileSources, type ProfileSources } from './profile-sources.ts';
import { createRateOfBeats } from './rate-of-beats.ts';

export interface SensorBytes {
  readonly atMs: MonotonicMs;
  readonly sensorId: string;
  readonly characteristic: string;
  readonly bytes: Uint8Array;
}

export interface ReadPacket {
  readonly samples: readonly Sample[];
  readonly missing: readonly MissingValue[];
  /** The averaged saturation beside the fast one that `samples` has, where a pulse oximeter sends both. */
  readonly averagedSpo2?: Sample;
  /** Why bytes did not become readings, one sentence each. */
  readonly discards: readonly (DiscardCode | ProfileDiscard)[];
  /** Whole per cent, where the packet told the battery's charge. */
  readonly batteryPercent: number | undefined;
}

export interface PacketReader {
  /** Packets in order of arrival. Never throws, whatever the bytes. */
  read(packet: SensorBytes): ReadPacket;
  /** A new link to a sensor is being made: what was remembered of the one before is void. */
  newLink(sensorId: string): void;
  /** The same of every sensor. */
  newLinks(): void;
}

const none: ReadPacket = { samples: [], missing: [], discards: [], batteryPercent: undefined };

/** @param profiles read the characteristics that they name; all others are read by the standard. */
export function createPacketReader(profiles: readonly SensorProfile[] = []): PacketReader {
  const profileStates = new Map<string, ProfileState>();
  /** By stream: a name's mark is not worked out again for every packet. */
  const streams = new Map<
    string,
    { readonly profile: SensorProfile | undefined; readonly characteristic: string }
  >();
  const timelines = new Map<string, BeatTimeline>();
  const sources = new Map<string, ProfileSources>();
  const rates = new Map<string, ReturnType<typeof createRateOfBeats>>();

  function timelineOf(sensorId: string): BeatTimeline {
    const known = timelines.get(sensorId);
    if (known !== undefined) return known;
    const made = createBeatTimeline();
    timelines.set(sensorId, made);
    return made;
  }

  function streamOf(stream: string) {
    let known = streams.get(stream);
    if (known === undefined) {
      known = { profile: profileOfStream(profiles, stream), characteristic: characteristicOf(stream) };
      streams.set(stream, known);
    }
    return known;
  }

  function readByProfile(profile: SensorProfile, characteristic: string, packet: SensorBytes): ReadPacket {
    const key = `${packet.sensorId} ${packet.characteristic}`;
    const { sensorId, bytes, atMs } = packet;
    const source = sourcesOf(sensorId);
    const state = { ...(profileStates.get(key) ?? initialProfileState), standing: source.standing };
    const decoded = decodeProfile(profile, state, sensorId, bytes, atMs, characteristic);
    profileStates.set(key, decoded.state);
    source.standing = decoded.state.standing;
    const worked = workedOut(decoded, source, packet);
    const tellsRate = profile.fields.some(({ gives }) => gives === 'heartRateBpm');
    return { ...decoded, samples: [...decoded.samples, ...(tellsRate ? worked : withRates(worked))] };
  }

  function withRates(samples: readonly Sample[]): readonly Sample[] {
    return samples.flatMap((sample) => {
      if (sample.channel !== 'rrIntervalMs') return [sample];
      let rateOf = rates.get(sample.sensorId);
      if (rateOf === undefined) {
        rateOf = createRateOfBeats();
        rates.set(sample.sensorId, rateOf);
      }
      const rate = rateOf(sample);
      return rate === undefined ? [sample] : [sample, rate];
    });
  }

  function sourcesOf(sensorId: string): ProfileSources {
    const known = sources.get(sensorId);
    if (known !== undefined) return known;
    const made = createProfileSources(sensorId);
    sources.set(sensorId, made);
    return made;
  }

  /** What a profile's waves and intervals come to. */
  function workedOut(
    { beats, sources: waves }: ProfileSamples,
    source: ProfileSources,
    { sensorId, atMs }: SensorBytes,
  ): readonly Sample[] {
    const worked = waves.length === 0 ? [] : source.push(waves);
    if (beats.length === 0) return worked;
    const times = timelineOf(sensorId).place(
      atMs,
      beats.map(({ intervalMs }) => intervalMs),
    );
    return [
      ...worked,
      ...beats.map(({ intervalMs, reasons }, i) =>
        beatSample(sensorId, times[i] ?? atMs, intervalMs, reasons),
      ),
    ];
  }

  function readReading(reading: Reading, { sensorId, atMs }: SensorBytes): ReadPacket {
    if (reading.kind === 'battery') return { ...none, batteryPercent: reading.batteryPercent };
    const times =
      reading.kind === 'heartRate'
        ? timelineOf(sensorId).place(atMs, reading.measurement.rrIntervalsMs)
        : undefined;
    return { ...none, ...readingToSamples(reading, sensorId, atMs, times) };
  }

  return {
    read(packet) {
      const { characteristic, bytes, sensorId } = packet;
      const stream = streamOf(characteristic);
      if (stream.profile !== undefined) return readByProfile(stream.profile, stream.characteristic, packet);
      const exact = decodeExactPacket(characteristic, bytes, sensorId);
      if (exact !== undefined) return { ...none, samples: exact };
      const decoded = decodePacket(characteristic, bytes);
      if (!decoded.ok) return { ...none, discards: [decoded.reason] };
      return readReading(decoded.value, packet);
    },
    newLink(sensorId) {
      timelines.get(sensorId)?.reset();
      sources.get(sensorId)?.newLink();
      for (const [key, state] of profileStates) {
        if (key.startsWith(`${sensorId} `)) {
          profileStates.set(key, { ...initialProfileState, counts: state.counts });
        }
      }
    },
    newLinks() {
      for (const timeline of timelines.values()) timeline.reset();
      for (const source of sources.values()) source.newLink();
      for (const [key, state] of profileStates)
        profileStates.set(key, { ...initialProfileState, counts: state.counts });
    },
  };
}
