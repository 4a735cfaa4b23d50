// From a stored session back to one athlete's pipeline events, and to what the live detector said.

import type { Hold } from '../../../src/holds/hold.ts';
import type { PipelineEvent } from '../../../src/pipeline.ts';
import { mergeEvents } from '../../../src/sessions/merge-events.ts';
import { isOfLatePackets } from '../../base/late-packets.ts';
import type { RecordingsLater } from '../../base/ports/hub-store.ts';
import type { StoredPacket, StoredSession } from '../../base/ports/stored-session.ts';
import { wearerOf } from '../../recorder/sensor-wearers.ts';
import { holdsToldLive } from '../told-live.ts';

/** Every packet of the session that can be read. */
export const packetsOfSession = (store: RecordingsLater, stored: StoredSession) =>
  store.readPackets(stored.session.sessionId, readingOf(stored));

/** The same for another thread, where the recorder has one. */
export const batchesOfSession = (store: RecordingsLater, stored: StoredSession) => {
  const read = store.readBatches?.bind(store);
  return read === undefined ? undefined : () => read(stored.session.sessionId, readingOf(stored));
};

export const columnsOfSession = (store: RecordingsLater, stored: StoredSession) =>
  store.readPacketColumns(stored.session.sessionId, readingOf(stored));

const readingOf = (stored: StoredSession) => ({ skipDamaged: stored.damage.length > 0 });

/** Whether a sensor told of this athlete at a time: one that changed hands did so only while they wore it. */
export function wornBy(
  { sensors }: Pick<StoredSession, 'sensors'>,
  athleteId: string,
): (sensorId: string, atMs: number) => boolean {
  const own = new Set(sensors.filter((each) => each.athleteId === athleteId).map(({ sensorId }) => sensorId));
  const shared = new Set(
    sensors
      .filter((each) => each.athleteId !== athleteId || each.untilMs !== undefined)
      .map(({ sensorId }) => sensorId),
  );
  return (sensorId, atMs) =>
    own.has(sensorId) && (!shared.has(sensorId) || wearerOf(sensors, sensorId, atMs) === athleteId);
}

/**
 * Everything that happened to one athlete of a stored session, in time order. `allPackets` are the session's, in the order in
 * which they came to the hub: what a radio elsewhere kept while it was not reached is put where it belongs.
 */
export function eventsOfPackets(
  stored: StoredSession,
  athleteId: string,
  allPackets: Iterable<StoredPacket>,
): Generator<PipelineEvent> {
  const sensors = new Map(
    stored.sensors
      .filter((sensor) => sensor.athleteId === athleteId)
      .map((sensor) => [sensor.sensorId, sensor]),
  );
  const isTheirs = wornBy(stored, athleteId);
  const rare: PipelineEvent[] = [];
  for (const { sensorId, atMs, link, detail } of stored.linkEvents) {
    const sensor = sensors.get(sensorId);
    if (sensor !== undefined && isTheirs(sensorId, atMs) && !isOfLatePackets(detail))
      rare.push({
        type: 'link',
        atMs,
        sensorId,
        measures: sensor.kinds,
        connected: link === 'connected',
        isNew: link === 'connecting',
      });
  }
  for (const { sensorId, athleteId: wearer, untilMs } of stored.sensors)
    if (wearer === athleteId && untilMs !== undefined)
      rare.push({ type: 'sensorGone', atMs: untilMs, sensorId });
  for (const { mark, removed } of stored.marks) {
    if (mark.athleteId !== athleteId || removed) continue;
    rare.push({
      type: 'mark',
      mark: {
        markId: mark.markId,
        kind: mark.kind,
        atMs: mark.atMs,
        ...(mark.text !== null && { text: mark.text }),
      },
    });
  }
  // Of a hub that only stood still, what the sensors sent meanwhile is recorded.
  for (const { fromMs, toMs, cause } of stored.session.unwatched)
    if (cause !== 'hubStalled') rare.push({ type: 'unwatched', fromMs, atMs: toMs });
  for (const change of stored.settingsChanges) {
    if (change.athleteId === athleteId)
      rare.push({ type: 'settings', atMs: change.atMs, settings: change.settings });
  }
  const ordered = stored.linkEvents.some(({ detail }) => isOfLatePackets(detail))
    ? [...allPackets].sort((one, other) => one.atMs - other.atMs)
    : allPackets;
  function* packets(): Generator<PipelineEvent> {
    for (const { sensorId, characteristic, bytes, atMs } of ordered) {
      if (isTheirs(sensorId, atMs)) yield { type: 'packet', atMs, sensorId, characteristic, bytes };
    }
  }
  return mergeEvents(packets(), rare);
}

/** What the live detector said and did not take back, as the core has holds. */
export function liveHoldsOf(stored: StoredSession, athleteId: string): Hold[] {
  return holdsToldLive(stored, athleteId).map(({ holdId, start, end }) => ({
    holdId,
    start,
    ...(end !== null && { end }),
    contractionsAtMs: [],
  }));
}
