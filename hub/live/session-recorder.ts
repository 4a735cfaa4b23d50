// Hands the events of a session to the store, before anything is derived from them. A write that fails ends nothing:
// monitoring goes on, the store holds what was handed in and tries again, and every page is told what is not saved.

import { type Said, said } from '../../shared/said.ts';
import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import type { UnwatchedSpan } from '../../shared/views.ts';
import { faultSaid } from '../base/hub-error.ts';
import type { HubLog } from '../base/log.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { HubStore, WritingState } from '../base/ports/hub-store.ts';
import type { SensorStatus } from '../base/ports/sensor-source.ts';
import type { SessionStart } from '../base/ports/session-log.ts';
import type {
  StoredAlarm,
  StoredAlive,
  StoredChange,
  StoredSchedule,
  StoredSensor,
  StoredSession,
} from '../base/ports/stored-session.ts';
import { toStoredAlarm, toStoredHold, toStoredMark } from '../recorder/to-stored.ts';
import type { HubNotices } from './hub-notices.ts';
import type { LiveEvent, Session } from './live-event.ts';

/**
 * Packets that outlive a kill as they are handed in go to the recorder's thread together, so that a hundred sensors wake it as often
 * as one does; others go at once. Our choice.
 */
const handOverWithinMs = 40;

export interface SessionRecorderParts {
  readonly store: HubStore;
  readonly log: HubLog;
  readonly pageClock: Clock;
  readonly notices: Pick<HubNotices, 'add' | 'ofWriting'>;
  /** Writing fails, for this reason; null when it works again. */
  readonly failing?: (reason: Said | null) => void;
}

/** What of one session has been written, to write the differences. */
interface Written {
  readonly sessionId: string;
  /** By sensor: as it is worn now. */
  readonly worn: Map<string, StoredSensor>;
  /** By athlete and hold. */
  readonly holds: Map<string, Parameters<HubStore['saveHold']>[1]>;
  /** By athlete and alarm: those that stand, as last written. */
  readonly alarms: Map<string, StoredAlarm>;
}

export class SessionRecorder {
  readonly #parts: SessionRecorderParts;
  #written: Written | undefined;
  #failing = false;
  #commitIsDue = false;
  #lastLogged = '';

  constructor(parts: SessionRecorderParts) {
    this.#parts = parts;
    parts.store.watchWriting?.((state) => this.#writing(state));
  }

  /** Hands in the session's head. Throws what the store throws at once, and tells of a fault that shows later. */
  begin(start: SessionStart, failedLater: (error: unknown) => void): void {
    const begun = this.#parts.store.startSession(start);
    if (begun instanceof Promise) begun.catch(failedLater);
    this.#written = {
      sessionId: start.sessionId,
      worn: new Map(
        start.athletes.flatMap(({ athlete: { athleteId }, sensors }) =>
          sensors.map((sensor) => [
            sensor.sensorId,
            { ...wornSensor(sensor), athleteId, fromMs: monotonicMs(0) },
          ]),
        ),
      ),
      holds: new Map(),
      alarms: new Map(),
    };
  }

  /** Records on what an earlier process left, with the gap in it. Throws or rejects: then it stays as it is. */
  async resume(stored: StoredSession, gap: UnwatchedSpan): Promise<void> {
    const { sessionId } = stored.session;
    await this.#parts.store.resumeSession(sessionId, gap);
    this.#written = {
      sessionId,
      // In order of time: of one that changed hands, whoever wears it now.
      worn: new Map(
        stored.sensors.flatMap((sensor) =>
          sensor.untilMs === undefined ? [[sensor.sensorId, sensor] as const] : [],
        ),
      ),
      holds: new Map(stored.holds.map((one) => [`${one.athleteId}/${one.hold.holdId}`, one])),
      alarms: new Map(),
    };
  }

  /** That the hub lives, and what the detector was told of a plan: kept for a process that takes the session up again. */
  alive(alive: StoredAlive): void {
    const written = this.#written;
    if (written !== undefined) this.#write(() => this.#parts.store.saveAlive(written.sessionId, alive));
  }

  scheduled(schedule: StoredSchedule): void {
    const written = this.#written;
    if (written !== undefined) this.#write(() => this.#parts.store.saveSchedule(written.sessionId, schedule));
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
        const { mark, removed, atMs } = event;
        this.#write(() => store.saveMark(sessionId, toStoredMark(mark, removed ? atMs : undefined)));
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
      case 'athleteJoined':
        this.#write(() => store.addSessionAthlete(sessionId, event.athlete));
        this.#writeChange(written, { ...event, change: 'joined', sensor: null });
        return;
      case 'athleteLeft':
        for (const { sensorId, athleteId } of [...written.worn.values()])
          if (athleteId === event.athleteId) this.#takenOff(written, sensorId, event.atMs);
        this.#writeChange(written, { ...event, change: 'left', sensor: null });
        return;
      case 'sensorMoved':
        this.#writeMove(written, event);
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
      case 'unwatched':
        this.#write(() => store.saveUnwatched(sessionId, event.span));
        return;
      case 'sessionEnded':
        this.#end(event.session);
        return;
      // Found again from the stored bytes, or kept by whoever says it.
      case 'sessionStarted':
      case 'sessionResumed':
      case 'athletesChanged':
      case 'sample':
      case 'phase':
      case 'forecast':
      case 'hubStateChanged':
      case 'supervisionChanged':
      case 'courseChanged':
      case 'coachWords':
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
    this.#parts.notices.add(said('notice.recordingAgain'));
    this.#parts.failing?.(null);
  }

  /** Tells that a write has failed. */
  failed(error: unknown): void {
    this.#parts.log.error('the recording could not be written', error);
    const reason = faultSaid(error);
    this.#parts.notices.add(said('notice.recordingFails', { reason }));
    this.#failing = true;
    this.#parts.failing?.(reason);
  }

  /** The store says how writing goes. */
  #writing(state: WritingState): void {
    const { log, notices } = this.#parts;
    const notice = noticeOf(state);
    notices.ofWriting(notice);
    const kind = state.fault?.code ?? (state.silentMs > 0 ? 'silent' : '');
    if (kind === this.#lastLogged) return;
    const before = this.#lastLogged;
    this.#lastLogged = kind;
    this.#parts.failing?.(kind === '' ? null : (notice ?? null));
    if (kind === '') {
      log.info('the recording is being written again');
      if (before !== '') notices.add(said('notice.recordingAgain'));
    } else log.error('the recording is not being written', state.fault ?? undefined);
  }

  #end({ sessionId, endedAtMs }: Session): void {
    this.commit();
    if (endedAtMs !== undefined) this.#write(() => void this.#parts.store.endSession(sessionId, endedAtMs));
    this.#written = undefined;
  }

  #writeLink(written: Written, { athleteId, atMs, sensor }: Extract<LiveEvent, { type: 'link' }>): void {
    const { store } = this.#parts;
    if (written.worn.get(sensor.sensorId)?.athleteId !== athleteId) {
      // Without this a sensor first heard after the start would have no wearer in the recording.
      const worn = { ...wornSensor(sensor), athleteId, fromMs: atMs };
      written.worn.set(sensor.sensorId, worn);
      this.#write(() => store.saveSessionSensor(written.sessionId, worn));
    }
    const { sensorId, link, detail } = sensor;
    this.#write(() => store.saveLinkEvent(written.sessionId, { sensorId, atMs, link, detail }));
  }

  #writeMove(
    written: Written,
    { sensorId, name, fromAthleteId, toAthleteId, atMs, by }: Extract<LiveEvent, { type: 'sensorMoved' }>,
  ): void {
    const sensor = { sensorId, name };
    this.#takenOff(written, sensorId, atMs);
    if (fromAthleteId !== null)
      this.#writeChange(written, { athleteId: fromAthleteId, atMs, change: 'sensorTaken', sensor, by });
    if (toAthleteId !== null)
      this.#writeChange(written, { athleteId: toAthleteId, atMs, change: 'sensorGiven', sensor, by });
  }

  #takenOff({ sessionId, worn }: Written, sensorId: string, untilMs: MonotonicMs): void {
    const sensor = worn.get(sensorId);
    if (sensor === undefined) return;
    worn.delete(sensorId);
    this.#write(() => this.#parts.store.saveSessionSensor(sessionId, { ...sensor, untilMs }));
  }

  #writeChange({ sessionId }: Written, { athleteId, atMs, change, sensor, by }: StoredChange): void {
    this.#write(() =>
      this.#parts.store.saveSessionChange(sessionId, { athleteId, atMs, change, sensor, by }),
    );
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

  /** What came in is in the database so soon; the timer's commit makes it safe from a power cut too. */
  #commitSoon(): void {
    if (this.#commitIsDue) return;
    this.#commitIsDue = true;
    const { pageClock, store } = this.#parts;
    pageClock.after(store.outlivesKill === true ? handOverWithinMs : 0, () => {
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

/** What is not saved, since when, and how much of it is held; undefined when all is well. */
function noticeOf(state: WritingState): Said | undefined {
  const {
    fault,
    silentMs,
    heldPacketCount: held,
    lostPacketCount: lost,
    unsavedSinceWallMs,
    session,
  } = state;
  if (fault === null && silentMs === 0)
    return lost === 0 ? undefined : said('notice.packetsLost', { count: lost, session: session ?? '' });
  const reason =
    fault === null ? said('notice.diskSilent', { seconds: Math.round(silentMs / 1_000) }) : fault.said;
  return said('notice.notSaved', {
    session: session ?? '',
    since: timeOfDay(unsavedSinceWallMs),
    held,
    lost,
    reason,
  });
}

/** "18:05:09" where the hub stands. */
function timeOfDay(wallMs: number | null): string {
  if (wallMs === null) return '';
  const at = new Date(wallMs);
  return [at.getHours(), at.getMinutes(), at.getSeconds()].map((n) => String(n).padStart(2, '0')).join(':');
}

/** The status alone, whatever else the object carries. */
function wornSensor({ sensorId, name, kinds, source, link, detail, batteryPercent, rssiDbm }: SensorStatus) {
  return { sensorId, name, kinds, source, link, detail, batteryPercent, rssiDbm };
}
