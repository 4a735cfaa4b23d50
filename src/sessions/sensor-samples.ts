// The samples of a recording as its sensors sent them, before any cleaning: what files for other programs are made of.

import type { PipelineEvent } from '../pipeline.ts';
import type { SensorProfile } from '../profiles/sensor-profile.ts';
import type { Sample } from '../samples/sample.ts';
import { createPacketReader } from '../signal/packet-reader.ts';

/**
 * In the order of arrival. Quality is what the sensor itself said and what cannot be (readings-to-samples.ts), no more.
 * `profiles` read the characteristics that they name; all others are read by the standard.
 */
export function* samplesAsSent(
  events: Iterable<PipelineEvent>,
  profiles: readonly SensorProfile[] = [],
): Generator<Sample> {
  const reader = createPacketReader(profiles);
  for (const event of events) {
    if (event.type === 'sample') yield event.sample;
    else if (event.type === 'packet') yield* reader.read(event).samples;
    else if ((event.type === 'link' && event.isNew) || event.type === 'sensorGone')
      reader.newLink(event.sensorId);
    // As the pipeline does: beats that come after an outage do not follow on from the last before it.
    else if (event.type === 'unwatched') reader.newLinks();
  }
}

/** The same in time order. */
export function sensorSamples(
  events: Iterable<PipelineEvent>,
  profiles: readonly SensorProfile[] = [],
): Sample[] {
  return [...samplesAsSent(events, profiles)].sort((a, b) => a.atMs - b.atMs);
}
