// An imported recording as a session of the store: packets, marks and the holds the live detector would have said.
// Either the whole session is stored or nothing of it.

import { monotonicMs, wallMs } from '../../../shared/units.ts';
import type { Athlete, AthleteSettings } from '../../../shared/views.ts';
import type { Pipeline } from '../../../src/pipeline.ts';
import { deriveRecording, measureHolds } from '../../../src/sessions/derive-recording.ts';
import type { ImportedRecording } from '../../../src/sessions/imported-recording.ts';
import type { SensorStatus, Store } from '../../base/ports.ts';
import { toKeptHold } from '../../recorder/to-stored.ts';
import { eventsOfAthlete } from '../review/session-events.ts';
import { packetsOfSamples } from './packets-of-samples.ts';

export interface ImportTarget {
  readonly sessionId: string;
  readonly athlete: Athlete;
  readonly title: string;
  readonly startedWallAtMs: number;
}

const kindOf = { strap: 'heartRate', oximeter: 'oximeter' } as const;
/** Packets between commits: bounds what is held in memory. */
const packetsPerCommit = 5_000;

/** Answers with what was left out, a sentence each. Throws what the store throws, with nothing stored. */
export function saveImported(
  store: Store,
  recording: ImportedRecording,
  target: ImportTarget,
  makeId: () => string,
  createPipeline: (settings: AthleteSettings) => Pipeline,
): string[] {
  const { sessionId, athlete, title, startedWallAtMs } = target;
  const { packets, leftOutCount } = packetsOfSamples(recording.samples);
  const prefix = recording.simulated ? 'SIMULATED, imported' : 'Imported';
  const devices = (['strap', 'oximeter'] as const).filter((device) =>
    packets.some((packet) => packet.device === device),
  );
  const sensorIdOf = (device: 'strap' | 'oximeter'): string => `import:${device}`;
  const sensors: SensorStatus[] = devices.map((device) => ({
    sensorId: sensorIdOf(device),
    name: `${prefix} ${device}`,
    kinds: [kindOf[device]],
    source: 'replay',
    link: 'connected',
    detail: null,
    batteryPercent: null,
    rssiDbm: null,
  }));
  store.startSession({
    sessionId,
    startedWallAtMs: wallMs(startedWallAtMs),
    simulated: recording.simulated,
    source: 'import',
    title,
    athletes: [{ athlete, sensors }],
  });
  try {
    packets.forEach(({ device, characteristic, atMs, bytes }, index) => {
      store.appendPacket(sessionId, {
        sensorId: sensorIdOf(device),
        characteristic,
        bytes,
        atMs,
        wallAtMs: wallMs(startedWallAtMs + atMs),
      });
      if (index % packetsPerCommit === packetsPerCommit - 1) store.commit();
    });
    for (const { kind, atMs, text } of recording.marks)
      store.saveMark(sessionId, {
        mark: { markId: makeId(), athleteId: athlete.athleteId, kind, atMs: monotonicMs(atMs), text },
        removed: false,
      });
    store.endSession(sessionId, monotonicMs(recording.durationMs));
    const stored = store.readSession(sessionId);
    if (stored !== undefined) {
      const derived = deriveRecording(
        createPipeline(athlete.settings),
        eventsOfAthlete(store, stored, athlete.athleteId),
        stored.durationMs,
      );
      for (const { hold, lowestSpo2 } of measureHolds(derived.liveHolds, derived.samples))
        store.saveHold(sessionId, {
          athleteId: athlete.athleteId,
          hold: toKeptHold(hold, lowestSpo2),
          withdrawn: false,
        });
    }
  } catch (error) {
    removeHalfDone(store, sessionId, recording.durationMs);
    throw error;
  }
  return leftOutCount === 0
    ? []
    : [`${leftOutCount} values could not be stored, since no sensor sends such numbers.`];
}

function removeHalfDone(store: Store, sessionId: string, durationMs: number): void {
  try {
    if (store.readSession(sessionId)?.session.status === 'recording')
      store.endSession(sessionId, monotonicMs(durationMs));
    store.deleteSession(sessionId);
  } catch {
    // The store has failed altogether; the first failure is the one to tell.
  }
}
