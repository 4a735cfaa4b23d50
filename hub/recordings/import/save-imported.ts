// A recording that comes in parts, as a session of the store: the whole of it or nothing.

import { type Said, said } from '../../../shared/said.ts';
import { monotonicMs, wallMs } from '../../../shared/units.ts';
import type { Athlete } from '../../../shared/views.ts';
import type { Recordings } from '../../base/ports/recordings.ts';
import type { SensorStatus } from '../../base/ports/sensor-source.ts';
import type { SessionLog } from '../../base/ports/session-log.ts';
import type { ReadRecording } from './import-task.ts';
import { importSensorIds, type SessionPart } from './session-parts.ts';

export interface ImportTarget {
  readonly sessionId: string;
  readonly athlete: Athlete;
  readonly title: string;
  readonly startedWallAtMs: number;
}

export interface SessionWriter {
  /** Takes the next part; with the `end` the session is there. */
  take(part: SessionPart): void;
  /** What was left out, a sentence each. */
  readonly notices: readonly Said[];
  /** Removes what was begun, unless it is whole already. */
  undo(): void;
}

const kindOf = { strap: 'heartRate', oximeter: 'oximeter' } as const;

/** Begins a session that is listed only when it is whole. Throws what the store throws. */
export function beginImported(
  store: SessionLog & Recordings,
  recording: ReadRecording,
  { sessionId, athlete, title, startedWallAtMs }: ImportTarget,
  makeId: () => string,
): SessionWriter {
  const prefix = recording.simulated ? 'SIMULATED, imported' : 'Imported';
  const sensors: SensorStatus[] = recording.devices.map((device) => ({
    sensorId: importSensorIds[device],
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
  const { athleteId } = athlete;
  const notices: Said[] = [];
  let isWhole = false;
  const none = { chunks: [], marks: [], holds: [] };
  return {
    notices,
    take(part) {
      if (part.type === 'packets') store.appendImported(sessionId, { ...none, chunks: [part.chunk] });
      else if (part.type === 'marks')
        store.appendImported(sessionId, {
          ...none,
          marks: part.marks.map(({ kind, atMs, text }) => ({
            mark: { markId: makeId(), athleteId, kind, atMs: monotonicMs(atMs), text },
            removed: false,
          })),
        });
      else {
        store.appendImported(sessionId, {
          ...none,
          holds: part.holds.map((hold) => ({ athleteId, hold, withdrawn: false })),
        });
        store.endSession(sessionId, monotonicMs(recording.durationMs));
        isWhole = true;
        if (part.leftOutCount > 0) notices.push(said('import.notStored', { count: part.leftOutCount }));
      }
    },
    undo() {
      if (isWhole) return;
      try {
        store.endSession(sessionId, monotonicMs(recording.durationMs));
        store.deleteSession(sessionId);
      } catch {
        // The store has failed altogether; the first failure is the one to tell. Opening it again removes the rest.
      }
    },
  };
}
