// One of the hub's own sessions as a recording: the very packets, the marks that were not taken back, lost links.

import { said } from '../../../shared/said.ts';
import { HubError } from '../../base/hub-error.ts';
import type { Recordings } from '../../base/ports/recordings.ts';
import type { SensorStatus } from '../../base/ports/sensor-source.ts';
import type { StoredPacket, StoredSession } from '../../base/ports/stored-session.ts';
import type { Recording, RecordingEvent } from './recording.ts';

/**
 * Throws HubError `input.notFound` where there is no such session. Packets are read from the store as the replay
 * goes on; damaged pieces are skipped and named in the notices. Sensors keep their ids, so that they stay with
 * their athletes.
 */
export function storedRecording(store: Recordings, sessionId: string): Recording {
  const stored = store.readSession(sessionId);
  if (stored === undefined) {
    throw new HubError('input.notFound', said('replay.noSuchRecording', { sessionId }));
  }
  return recordingOfSession(stored, () => store.readPackets(sessionId, { skipDamaged: true }));
}

/** The same of a session at hand. */
export function recordingOfSession(stored: StoredSession, packets: () => Iterable<StoredPacket>): Recording {
  const sensors = new Map<string, Pick<SensorStatus, 'sensorId' | 'name' | 'kinds'>>();
  for (const { sensorId, name, kinds } of stored.sensors) {
    const replayName = name.startsWith('Replay of ') ? name : `Replay of ${name}`;
    sensors.set(sensorId, { sensorId, name: replayName, kinds });
  }
  // Few beside the packets, so they are sorted here and merged in as the packets come.
  const beside: RecordingEvent[] = [
    ...stored.marks
      .filter(({ removed }) => !removed)
      .map(
        ({ mark }): RecordingEvent => ({
          type: 'mark',
          atMs: mark.atMs,
          athleteId: mark.athleteId,
          kind: mark.kind,
          text: mark.text,
        }),
      ),
    ...wornEvents(stored),
    ...stored.linkEvents
      .filter(({ sensorId }) => sensors.has(sensorId))
      .map((event): RecordingEvent => ({ type: 'link', ...event })),
  ].sort((a, b) => a.atMs - b.atMs);
  const notices = [...stored.damage];
  if (stored.session.status === 'interrupted') {
    notices.push(said('replay.interrupted'));
  }
  return {
    sensors: [...sensors.values()],
    events: () => merge(packets(), beside),
    durationMs: stored.durationMs,
    simulated: stored.session.simulated,
    profiles: stored.profiles,
    notices,
  };
}

/** Whose each sensor is, at the start and whenever that changed. Taken off comes before given, at equal times. */
function wornEvents({ sensors }: StoredSession): RecordingEvent[] {
  const taken = sensors.flatMap(({ sensorId, untilMs }): RecordingEvent[] =>
    untilMs === undefined ? [] : [{ type: 'worn', atMs: untilMs, sensorId, athleteId: null }],
  );
  const given = sensors.map(
    ({ sensorId, athleteId, fromMs: atMs }): RecordingEvent => ({ type: 'worn', atMs, sensorId, athleteId }),
  );
  return [...taken, ...given];
}

function* merge(
  packets: Iterable<StoredPacket>,
  beside: readonly RecordingEvent[],
): Iterable<RecordingEvent> {
  let next = 0;
  for (const { sensorId, characteristic, bytes, atMs } of packets) {
    for (; next < beside.length && beside[next]!.atMs <= atMs; next += 1) yield beside[next]!;
    yield { type: 'packet', atMs, sensorId, characteristic, bytes };
  }
  for (; next < beside.length; next += 1) yield beside[next]!;
}
