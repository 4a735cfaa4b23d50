// The samples of a recording as its sensors sent them, before any cleaning: what files for other programs are made of.

import { decodePacket } from '../gatt/decode-packet.ts';
import { readingToSamples } from '../gatt/readings-to-samples.ts';
import type { PipelineEvent } from '../pipeline.ts';
import type { Sample } from '../samples/sample.ts';

/** In time order. Quality is what the sensor itself said and what cannot be (readings-to-samples.ts), no more. */
export function sensorSamples(events: Iterable<PipelineEvent>): Sample[] {
  const samples: Sample[] = [];
  for (const event of events) {
    if (event.type === 'sample') samples.push(event.sample);
    if (event.type !== 'packet') continue;
    const decoded = decodePacket(event.characteristic, event.bytes);
    if (decoded.ok) samples.push(...readingToSamples(decoded.value, event.sensorId, event.atMs).samples);
  }
  return samples.sort((a, b) => a.atMs - b.atMs);
}
