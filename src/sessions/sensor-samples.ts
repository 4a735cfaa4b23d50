// The samples of a recording as its sensors sent them, before any cleaning: what files for other programs are made of.

import { decodePacket } from '../gatt/decode-packet.ts';
import { readingToSamples } from '../gatt/readings-to-samples.ts';
import type { PipelineEvent } from '../pipeline.ts';
import { decodeProfile, initialProfileState, type ProfileState } from '../profiles/decode-profile.ts';
import type { SensorProfile } from '../profiles/sensor-profile.ts';
import type { Sample } from '../samples/sample.ts';
import { decodeWavePacket, waveCharacteristic } from './wave-packet.ts';

/**
 * In the order of arrival. Quality is what the sensor itself said and what cannot be (readings-to-samples.ts), no more.
 * `profiles` read the characteristics that they name; all others are read by the standard.
 */
export function* samplesAsSent(
  events: Iterable<PipelineEvent>,
  profiles: readonly SensorProfile[] = [],
): Generator<Sample> {
  const profileStates = new Map<string, ProfileState>();
  for (const event of events) {
    if (event.type === 'sample') yield event.sample;
    if (event.type !== 'packet') continue;
    const { characteristic, sensorId, bytes, atMs } = event;
    const profile = profiles.find(({ link }) => link.notify === characteristic);
    if (profile !== undefined) {
      const key = `${sensorId} ${characteristic}`;
      const state = profileStates.get(key) ?? initialProfileState;
      const decoded = decodeProfile(profile, state, sensorId, bytes, atMs);
      profileStates.set(key, decoded.state);
      yield* decoded.samples;
    } else if (characteristic === waveCharacteristic) {
      yield* decodeWavePacket(bytes, sensorId);
    } else {
      const decoded = decodePacket(characteristic, bytes);
      if (decoded.ok) yield* readingToSamples(decoded.value, sensorId, atMs).samples;
    }
  }
}

/** The same in time order. */
export function sensorSamples(
  events: Iterable<PipelineEvent>,
  profiles: readonly SensorProfile[] = [],
): Sample[] {
  return [...samplesAsSent(events, profiles)].sort((a, b) => a.atMs - b.atMs);
}
