// Writes the events of a session to the store. A write that fails ends nothing: monitoring goes on, what was buffered
// stays buffered, every page is told, and the next write tries again.

import { type Said, said } from '../../shared/said.ts';
import type { HubLog } from '../base/log.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { Documents } from '../base/ports/documents.ts';
import type { SensorStatus } from '../base/ports/sensor-source.ts';
import type { SessionLog, SessionStart } from '../base/ports/session-log.ts';
import type { StoredAlarm } from '../base/ports/stored-session.ts';
import { toStoredAlarm, toStoredHold, toStoredMark } from '../recorder/to-stored.ts';
import type { LiveEvent, Session } from './live-event.ts';

export interface SessionRecorderParts {
  readonly store: SessionLog & Documents;
  readonly log: HubLog;
  readonly pageClock: Clock;
  readonly addNotice: (notice: Said) => void;
  /** Writing fails, for this reason; null when it works again. */
  readonly failing?: (reason: string | null) => void;
}

/** What of one session has been written, to write the differences. */
interface Written {
  readonly sessionId: string;
  readonly sensorIds: Set<string>;
  /** By athlete and hold. */
  readonly holds: Map<string, Parameters<SessionLog['saveHold']>[1]>;
  /** By athlete and alarm: those that stand, as last written. */
  readonly alarms: Map<string, StoredAlarm>;
}

export class SessionRecorder {
  readonly #parts: SessionRecorderParts;
  #written: Written | undefined;
  #failing = false;
  #commitIsDue = false;

  constructor(parts: SessionRecorderParts) {
    this.#parts = parts;
  }

  /** Writes the session's head. Throws what the store throws: without it nothing may begin. */
  begin(start: SessionStart): void {
    this.#parts.store.startSession(start);
    this.#written = {
      sessionId: start.sessionId,
      sensorIds: new Set(start.athletes.flatMap(({ sensors }) => sensors.map((sensor) => sensor.sensorId))),
      holds: new Map(),
      alarms: new Map(),
    };
  }

  readonly hear = (event: LiveEvent): void => {
    const written = this.#written;
    if (written === undefined) return;
    const { store } = this.#parts;
    const { sessionId } = written;
    switch (event.type) {
      case 'packet':
        this.#write(() => store.appendPacket(sessionId, event.packet));
        this.#commitSoon();
        return;
      case 'mark': {
        const { mark, removed } = event;
        this.#write(() => store.saveMark(sessionId, toStoredMark(mark, removed)));
        return;
      }
      case 'hold': {
        const stored = toStoredHold(event.athleteId, event.hold);
        written.holds.set(`${event.athleteId}/${stored.hold.holdId}`, stored);
        this.#write(() => store.saveHold(sessionId, stored));
        return;
      }
      case 'holdWithdrawn': {
        const stored = written.holds.get(`${event.athleteId}/${event.holdId}`);
        if (stored !== undefined)
          this.#write(() => store.saveHold(sessionId, { ...stored, withdrawn: true }));
        return;
      }
      case 'alarms':
        this.#writeAlarms(written, event);
        return;
      case 'link':
        this.#writeLink(written, event);
        return;
      case 'settings': {
        const { athleteId, atMs, athlete } = event;
        this.#write(() => store.saveSettingsChange(sessionId, athleteId, atMs, athlete.settings));
        return;
      }
      case 'learnt': {
        const { athleteId, prior: body } = event;
        this.#write(() =>
          store.saveDocument({ kind: 'oxygenPrior', documentId: athleteId, groupId: null, athleteId, body }),
        );
        return;
      }
      case 'sessionEnded':
        this.#end(event.session);
        return;
      // Found again from the stored bytes, or kept by whoever says it.
      case 'sessionStarted':
      case 'athletesChanged':
      case 'sample':
      case 'phase':
      case 'forecast':
      case 'hubStateChanged':
      case 'supervisionChanged':
      case 'planRunChanged':
      case 'planRunStep':
        return;
    }
  };

  /** Makes what is buffered safe: from a power cut, or from the end of the process only. */
  commit(durability: 'disk' | 'process' = 'disk'): void {
    try {
      this.#parts.store.commit(durability);
    } catch (error) {
      this.failed(error);
      return;
    }
    if (!this.#failing) return;
    this.#failing = false;
    this.#parts.addNotice(said('notice.recordingAgain'));
    this.#parts.failing?.(null);
  }

  /** Tells that a write has failed. */
  failed(error: unknown): void {
    this.#parts.log.error('the recording could not be written', error);
    const reason = error instanceof Error ? error.message : String(error);
    this.#parts.addNotice(said('notice.recordingFails', { reason }));
    this.#failing = true;
    this.#parts.failing?.(reason);
  }

  #end({ sessionId, endedAtMs }: Session): void {
    this.commit();
    if (endedAtMs !== undefined) this.#write(() => this.#parts.store.endSession(sessionId, endedAtMs));
    this.#written = undefined;
  }

  #writeLink(written: Written, { athleteId, atMs, sensor }: Extract<LiveEvent, { type: 'link' }>): void {
    const { store } = this.#parts;
    if (!written.sensorIds.has(sensor.sensorId)) {
      // Without this a sensor first heard after the start would have no wearer in the recording.
      written.sensorIds.add(sensor.sensorId);
      this.#write(() =>
        store.saveSessionSensor(written.sessionId, { ...wornSensor(sensor), athleteId, fromMs: atMs }),
      );
    }
    const { sensorId, link, detail } = sensor;
    this.#write(() => store.saveLinkEvent(written.sessionId, { sensorId, atMs, link, detail }));
  }

  #writeAlarms(written: Written, { athleteId, alarms, ended }: Extract<LiveEvent, { type: 'alarms' }>): void {
    const { store } = this.#parts;
    this.#write(() => {
      for (const alarm of alarms) {
        const key = `${athleteId}/${alarm.alarmId}`;
        const stored = toStoredAlarm(athleteId, alarm);
        if (!hasTurned(written.alarms.get(key)?.alarm, stored.alarm)) continue;
        store.saveAlarm(written.sessionId, stored);
        written.alarms.set(key, stored);
      }
      for (const alarm of ended) {
        store.saveAlarm(written.sessionId, {
          ...toStoredAlarm(athleteId, alarm),
          clearedAtMs: alarm.endedAtMs,
        });
        written.alarms.delete(`${athleteId}/${alarm.alarmId}`);
      }
    });
  }

  #write(action: () => void): void {
    try {
      action();
    } catch (error) {
      this.failed(error);
    }
  }

  /** What came in this turn of the loop is safe from a kill of the process by the next; the timer's commit makes it
   * safe from a power cut too. */
  #commitSoon(): void {
    if (this.#commitIsDue) return;
    this.#commitIsDue = true;
    this.#parts.pageClock.after(0, () => {
      this.#commitIsDue = false;
      this.commit('process');
    });
  }
}

/**
 * Written at its turns and at each whole unit that it gets worse, not at every reading: what it was in the end is
 * written with its end, and what lies between is found again from the stored bytes.
 */
const hasTurned = (before: StoredAlarm['alarm'] | undefined, now: StoredAlarm['alarm']): boolean =>
  before === undefined ||
  before.acknowledged !== now.acknowledged ||
  before.acknowledgedAtMs !== now.acknowledgedAtMs ||
  before.conditionPresent !== now.conditionPresent ||
  before.kind !== now.kind ||
  before.priority !== now.priority ||
  Math.floor(before.worstValue ?? 0) !== Math.floor(now.worstValue ?? 0);

/** The status alone, whatever else the object carries. */
function wornSensor({ sensorId, name, kinds, source, link, detail, batteryPercent, rssiDbm }: SensorStatus) {
  return { sensorId, name, kinds, source, link, detail, batteryPercent, rssiDbm };
}
