// The alarms of the watching itself: monitoring that ended or was broken off, an output that fails, a device that was
// dropped. They stand whether or not a session runs, until a person has seen them; those of a session outlive the process.

import { isSameSaid, type Said } from '../../shared/said.ts';
import type { AlarmPriority } from '../../shared/schema-parts.ts';
import type { WallMs } from '../../shared/units.ts';
import type { SupervisionAlarm } from '../../shared/views.ts';
import type { HubLog } from '../base/log.ts';

/** Where alarms that must outlive the process are kept. */
export interface SupervisionMemory {
  load(): readonly SupervisionAlarm[];
  /** May throw what the file system throws. */
  save(alarms: readonly SupervisionAlarm[]): void;
  /** The last session that a person ended, or whose alarm they have seen: it never goes on by itself. Null when none. */
  decidedSessionId(): string | null;
  /** May throw what the file system throws. */
  noteDecided(sessionId: string): void;
  /** How often going on with this session has been begun and not been brought to its end. */
  attemptsAt(sessionId: string): number;
  /** Begun, or with null brought to its end. May throw what the file system throws. */
  noteAttempt(sessionId: string | null): void;
}

/** Keeps nothing. */
export const noSupervisionMemory: SupervisionMemory = {
  load: () => [],
  save: () => undefined,
  decidedSessionId: () => null,
  noteDecided: () => undefined,
  attemptsAt: () => 0,
  noteAttempt: () => undefined,
};

export type RaisedSupervision = Pick<SupervisionAlarm, 'kind' | 'priority'> &
  Partial<Pick<SupervisionAlarm, 'cause' | 'subject' | 'reason' | 'durationMs' | 'session'>> & {
    /** Now, when left out. */
    readonly atWallMs?: WallMs;
  };

export interface SupervisionParts {
  readonly memory: SupervisionMemory;
  readonly makeId: () => string;
  readonly wallNowMs: () => WallMs;
  readonly log: HubLog;
  readonly changed: (alarms: readonly SupervisionAlarm[]) => void;
}

/** Those that last while something is wrong; the others have happened, and wait for a person. */
const isOfCondition = ({ kind }: Pick<SupervisionAlarm, 'kind'>): boolean =>
  ['outputFailed', 'recordingFails', 'signalsExchanged', 'roomSilent'].includes(kind);

/** So many at most: a device that comes and goes must not fill a page. The oldest seen go first. */
const mostAlarms = 32;
const rank: Readonly<Record<AlarmPriority, number>> = { high: 0, medium: 1, low: 2 };

export class Supervision {
  readonly #parts: SupervisionParts;
  #alarms: readonly SupervisionAlarm[];
  #kept = '[]';

  constructor(parts: SupervisionParts) {
    this.#parts = parts;
    this.#alarms = parts.memory.load();
    this.#kept = JSON.stringify(this.#alarms);
  }

  /** The most urgent first, then the newest. */
  get alarms(): readonly SupervisionAlarm[] {
    return this.#alarms;
  }

  /** What should sound for them now. */
  get soundPriority(): AlarmPriority | null {
    return this.#alarms.find(({ acknowledged }) => !acknowledged)?.priority ?? null;
  }

  /** Raises one, or follows the one that stands of the same thing. Unseen again only if it has become more urgent. */
  raise(raised: RaisedSupervision): void {
    const before = this.#alarms.find((alarm) => isSame(alarm, raised));
    const isWorse = before !== undefined && rank[raised.priority] < rank[before.priority];
    const alarm: SupervisionAlarm = {
      alarmId: before?.alarmId ?? `watch-${this.#parts.makeId()}`,
      cause: null,
      subject: null,
      reason: null,
      durationMs: null,
      session: null,
      atWallMs: before?.atWallMs ?? this.#parts.wallNowMs(),
      ...raised,
      conditionPresent: true,
      acknowledged: before?.acknowledged === true && !isWorse,
    };
    this.#replace([...this.#alarms.filter((one) => one !== before), alarm]);
  }

  /** What it is about has another name now: the same alarm, seen if it was. */
  rename(kind: SupervisionAlarm['kind'], before: Said, subject: Said): void {
    const isTaken = this.#alarms.some((alarm) => isSame(alarm, { kind, subject }));
    this.#replace(
      this.#alarms.flatMap((alarm) => {
        if (!isSame(alarm, { kind, subject: before })) return alarm;
        return isTaken ? [] : { ...alarm, subject };
      }),
    );
  }

  /** The condition is over: nothing more is asked. */
  clear(kind: SupervisionAlarm['kind'], subject: Said | null = null): void {
    this.#replace(this.#alarms.filter((alarm) => !isSame(alarm, { kind, subject })));
  }

  /** A person has seen these; what has happened and is seen is over, what is still wrong stays in sight. */
  acknowledge(alarmIds: readonly string[]): void {
    this.#replace(
      this.#alarms.flatMap((alarm) => {
        if (!alarmIds.includes(alarm.alarmId)) return alarm;
        return isOfCondition(alarm) ? { ...alarm, acknowledged: true } : [];
      }),
    );
  }

  /** These are watched again, by a person's will: that monitoring of theirs had stopped needs no more telling. */
  watchedAgain(athleteIds: readonly string[]): void {
    this.#replace(
      this.#alarms.filter(
        ({ kind, session }) =>
          kind !== 'monitoringStopped' ||
          session === null ||
          !session.athletes.every(({ athleteId }) => athleteIds.includes(athleteId)),
      ),
    );
  }

  #replace(alarms: readonly SupervisionAlarm[]): void {
    const next = [...alarms]
      .sort((one, other) => rank[one.priority] - rank[other.priority] || other.atWallMs - one.atWallMs)
      .slice(0, mostAlarms);
    if (JSON.stringify(next) === JSON.stringify(this.#alarms)) return;
    this.#alarms = next;
    // Told before it is written, as every alarm.
    this.#parts.changed(next);
    this.#keep();
  }

  #keep(): void {
    const kept = this.#alarms.filter((alarm) => !isOfCondition(alarm));
    const text = JSON.stringify(kept);
    if (text === this.#kept) return;
    try {
      this.#parts.memory.save(kept);
      this.#kept = text;
    } catch (error) {
      this.#parts.log.error('standing alarms could not be written', error);
    }
  }
}

/** Of the same thing: one alarm, however often it is found. */
function isSame(
  alarm: SupervisionAlarm,
  other: Pick<RaisedSupervision, 'kind' | 'subject' | 'session' | 'cause'>,
): boolean {
  if (alarm.kind !== other.kind || !isSameSaid(alarm.subject, other.subject ?? null)) return false;
  return (
    isOfCondition(alarm) ||
    (alarm.session?.sessionId === other.session?.sessionId && alarm.kind === 'monitoringStopped')
  );
}
