// A stored session as one athlete's pipeline events in time order: packets, links, marks and settings woven together.

import type { MonotonicMs } from '../../shared/units.ts';
import type { PipelineEvent } from '../pipeline.ts';

/** When an event happened, whatever its kind. */
export function timeOfEvent(event: PipelineEvent): MonotonicMs {
  switch (event.type) {
    case 'sample':
      return event.sample.atMs;
    case 'mark':
      return event.mark.atMs;
    default:
      return event.atMs;
  }
}

/**
 * Weaves the few (`rare`: links, marks, settings) into the many (`packets`, in order of arrival) by time.
 * At equal times the rare ones come first, as they did live: a link is known before its packets.
 */
export function* mergeEvents(
  packets: Iterable<PipelineEvent>,
  rare: readonly PipelineEvent[],
): Generator<PipelineEvent> {
  const waiting = rare
    .map((event, index) => ({ event, index }))
    .sort((a, b) => timeOfEvent(a.event) - timeOfEvent(b.event) || a.index - b.index);
  let next = 0;
  for (const packet of packets) {
    const atMs = timeOfEvent(packet);
    while (next < waiting.length && timeOfEvent(waiting[next]!.event) <= atMs) {
      yield waiting[next]!.event;
      next += 1;
    }
    yield packet;
  }
  for (; next < waiting.length; next += 1) yield waiting[next]!.event;
}
