// A recording that comes in parts, as a session of the store: the whole of it or nothing.

import { type Said, said } from '../../../shared/said.ts';
import { monotonicMs, wallMs } from '../../../shared/units.ts';
import type { Athlete } from '../../../shared/views.ts';
import type { Awaitable, HubStore } from '../../base/ports/hub-store.ts';
import type { SensorStatus } from '../../base/ports/sensor-source.ts';
import { sessionOfContent } from '../session-file-shapes.ts';
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
  take(part: SessionPart): Promise<void>;
  /** What was left out, a sentence each. */
  readonly notices: readonly Said[];
  /** Removes what was begun, unless it is whole already. */
  undo(): Promise<void>;
}

const kindOf = { strap: 'heartRate', oximeter: 'oximeter' } as const;

/** Begins a session that is listed only when it is whole. Throws what the store throws. */
export function beginImported(
  store: Pick<HubStore, 'startSession' | 'appendImported' | 'endSession' | 'deleteSession'>,
  recording: ReadRecording,
  { sessionId, athlete, title, startedWallAtMs }: ImportTarget,
  makeId: () => string,
): SessionWriter {
  const { kept } = recording;
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
  const begun: Awaitable<void> = store.startSession({
    sessionId,
    startedWallAtMs: wallMs(startedWallAtMs),
    simulated: recording.simulated,
    source: 'import',
    title,
    // A session file's own settings: its alarms and measures were made by them.
    athletes: [{ athlete: { ...athlete, settings: kept?.settings ?? athlete.settings }, sensors }],
    ...(kept !== undefined && { profiles: kept.profiles }),
    ...(kept?.madeBy != null && { madeBy: kept.madeBy }),
  });
  const { athleteId } = athlete;
  const notices: Said[] = [];
  let isWhole = false;
  const none = { chunks: [], marks: [], holds: [] };
  return {
    notices,
    async take(part) {
      await begun;
      if (part.type === 'packets') await store.appendImported(sessionId, { ...none, chunks: [part.chunk] });
      else if (part.type === 'kept') {
        const whose = { sessionId, athleteId, athleteName: athlete.name };
        const { marks, holds, session, ...beside } = sessionOfContent(
          part.content,
          kept?.profiles ?? [],
          whose,
        );
        await store.appendImported(sessionId, {
          chunks: [],
          marks,
          holds,
          beside: { ...beside, unwatched: session.unwatched },
        });
      } else if (part.type === 'marks')
        await store.appendImported(sessionId, {
          ...none,
          marks: part.marks.map(({ kind, atMs, text }) => ({
            mark: { markId: makeId(), athleteId, kind, atMs: monotonicMs(atMs), text },
            removed: false,
          })),
        });
      else {
        await store.appendImported(sessionId, {
          ...none,
          holds: part.holds.map((hold) => ({ athleteId, hold, withdrawn: false })),
        });
        await store.endSession(sessionId, monotonicMs(recording.durationMs));
        isWhole = true;
        if (part.leftOutCount > 0) notices.push(said('import.notStored', { count: part.leftOutCount }));
      }
    },
    async undo() {
      if (isWhole) return;
      try {
        await store.endSession(sessionId, monotonicMs(recording.durationMs));
        await store.deleteSession(sessionId);
      } catch {
        // The store has failed altogether; the first failure is the one to tell. Opening it again removes the rest.
      }
    },
  };
}
