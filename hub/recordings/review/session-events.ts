// From a stored session back to one athlete's pipeline events.

import type { PipelineEvent } from '../../../src/pipeline.ts';
import { mergeEvents } from '../../../src/sessions/merge-events.ts';
import type { RecordingsLater } from '../../base/ports/hub-store.ts';
import type { Recordings } from '../../base/ports/recordings.ts';
import type { StoredPacket, StoredSession } from '../../base/ports/stored-session.ts';
import { wearerOf } from '../../recorder/sensor-wearers.ts';

/** Everything that happened to one athlete of a stored session, in time order. */
export function eventsOfAthlete(
  store: Recordings,
  stored: StoredSession,
  athleteId: string,
): Generator<PipelineEvent> {
  return eventsOfPackets(stored, athleteId, store.readPackets(stored.session.sessionId, readingOf(stored)));
}

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

/** The same from packets at hand: all of the session's, in the order in which they arrived. */
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
  const shared = new Set(
    stored.sensors
      .filter((sensor) => sensor.athleteId !== athleteId || sensor.untilMs !== undefined)
      .map(({ sensorId }) => sensorId),
  );
  /** A sensor that changed hands told of this athlete only while they wore it. */
  const isTheirs = (sensorId: string, atMs: number): boolean =>
    sensors.has(sensorId) &&
    (!shared.has(sensorId) || wearerOf(stored.sensors, sensorId, atMs) === athleteId);
  const rare: PipelineEvent[] = [];
  for (const { sensorId, atMs, link } of stored.linkEvents) {
    const sensor = sensors.get(sensorId);
    if (sensor !== undefined && isTheirs(sensorId, atMs))
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
  function* packets(): Generator<PipelineEvent> {
    for (const { sensorId, characteristic, bytes, atMs } of allPackets) {
      if (isTheirs(sensorId, atMs)) yield { type: 'packet', atMs, sensorId, characteristic, bytes };
    }
  }
  return mergeEvents(packets(), rare);
}
