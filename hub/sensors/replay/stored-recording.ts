// One of the hub's own sessions as a recording: the very packets, the marks that were not taken back, lost links.

import { type Said, said } from '../../../shared/said.ts';
import { HubError } from '../../base/hub-error.ts';
import { isOfLatePackets } from '../../base/late-packets.ts';
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
      // That a sensor changed hands or that packets came late follows from what is played, and is told anew.
      .filter(({ sensorId, detail }) => sensors.has(sensorId) && !isToldAnew(detail))
      .map((event): RecordingEvent => ({ type: 'link', ...event })),
  ].sort((a, b) => a.atMs - b.atMs);
  const notices = [...stored.damage];
  if (stored.session.status === 'interrupted') {
    notices.push(said('replay.interrupted'));
  }
  return {
    sensors: [...sensors.values()],
    events: () => merge(asTheyCame(stored, packets), beside),
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

const isToldAnew = (detail: Said | null): boolean =>
  isOfLatePackets(detail) || detail?.code === 'link.changedHands';

/** A packet, and when it came to the hub where that was long after it was sent. */
interface ComingPacket extends StoredPacket {
  readonly cameAtMs?: number;
}

/**
 * The packets in the order in which they meant something to the hub: those that a radio elsewhere had kept come just before the
 * first of their sensor that came in time, or at the session's end. They lie in the recording as they came, and the link
 * events that mark them say how many there were.
 */
function* asTheyCame(stored: StoredSession, packets: () => Iterable<StoredPacket>): Iterable<ComingPacket> {
  const late = latePlaces(stored, packets);
  if (late.size === 0) {
    yield* packets();
    return;
  }
  const held = new Map<string, StoredPacket[]>();
  let place = 0;
  for (const packet of packets()) {
    const isLate = late.has(place);
    place += 1;
    const kept = held.get(packet.sensorId) ?? [];
    if (isLate) {
      held.set(packet.sensorId, [...kept, packet]);
      continue;
    }
    for (const before of kept) yield { ...before, cameAtMs: packet.atMs };
    held.delete(packet.sensorId);
    yield packet;
  }
  for (const kept of held.values())
    for (const packet of kept) yield { ...packet, cameAtMs: stored.durationMs };
}

/** Where in the recording, counted from 0, the packets lie that came late. */
function latePlaces(
  { linkEvents }: StoredSession,
  packets: () => Iterable<StoredPacket>,
): ReadonlySet<number> {
  const told = linkEvents.flatMap(({ sensorId, atMs, detail }) =>
    detail?.code === 'link.cameLate'
      ? [{ sensorId, atMs, count: Number(detail.params?.['count'] ?? 0) }]
      : [],
  );
  const late = new Set<number>();
  if (told.length === 0) return late;
  const placesOf = new Map<string, number[]>();
  const take = ({ sensorId, count }: (typeof told)[number]): void => {
    for (const place of (placesOf.get(sensorId) ?? []).slice(-count)) late.add(place);
  };
  let place = 0;
  for (const { sensorId, atMs } of packets()) {
    for (let next = firstOf(told, sensorId, atMs); next !== -1; next = firstOf(told, sensorId, atMs))
      take(told.splice(next, 1)[0]!);
    const places = placesOf.get(sensorId) ?? [];
    places.push(place);
    placesOf.set(sensorId, places);
    place += 1;
  }
  for (const rest of told) take(rest);
  return late;
}

const firstOf = (
  told: readonly { readonly sensorId: string; readonly atMs: number }[],
  sensorId: string,
  atMs: number,
): number => told.findIndex((each) => each.sensorId === sensorId && each.atMs <= atMs);

function* merge(
  packets: Iterable<ComingPacket>,
  beside: readonly RecordingEvent[],
): Iterable<RecordingEvent> {
  let next = 0;
  for (const { sensorId, characteristic, bytes, atMs, cameAtMs } of packets) {
    const dueMs = cameAtMs ?? atMs;
    for (; next < beside.length && beside[next]!.atMs <= dueMs; next += 1) yield beside[next]!;
    const packet = { type: 'packet', sensorId, characteristic, bytes } as const;
    yield cameAtMs === undefined
      ? { ...packet, atMs }
      : { ...packet, atMs: cameAtMs, lateByMs: cameAtMs - atMs };
  }
  for (; next < beside.length; next += 1) yield beside[next]!;
}
