// What happened in a session as entries: of what kind each is, by what key it replaces another, and when it was.

import type { UnwatchedSpan } from '../../shared/views.ts';
import type { ImportedBeside } from '../base/ports/session-log.ts';
import type {
  StoredAlarm,
  StoredAlive,
  StoredChange,
  StoredHold,
  StoredLinkEvent,
  StoredMark,
  StoredSchedule,
  StoredSensor,
  StoredSession,
} from '../base/ports/stored-session.ts';
import type { EntryKind } from './rows.ts';

/** An entry before it is a row. */
export interface Entry {
  readonly kind: EntryKind;
  /** Replaces the one of the same key; null for one that is only ever added. */
  readonly key: string | null;
  readonly athleteId: string | null;
  readonly atMs: number;
  readonly withdrawn?: boolean;
  readonly body: unknown;
}

export const markEntry = (mark: StoredMark): Entry => ({
  kind: 'mark',
  key: mark.mark.markId,
  athleteId: mark.mark.athleteId,
  atMs: mark.mark.atMs,
  withdrawn: mark.removed,
  body: mark,
});

export const holdEntry = (hold: StoredHold): Entry => ({
  kind: 'hold',
  key: `${hold.athleteId}/${hold.hold.holdId}`,
  athleteId: hold.athleteId,
  atMs: (hold.hold.end ?? hold.hold.start).atMs,
  withdrawn: hold.withdrawn,
  body: hold,
});

export const sensorEntry = (sensor: StoredSensor): Entry => ({
  kind: 'sensor',
  key: `${sensor.sensorId}/${sensor.fromMs}`,
  athleteId: sensor.athleteId,
  atMs: sensor.fromMs,
  body: sensor,
});

export const alarmEntry = (stored: StoredAlarm): Entry => ({
  kind: 'alarm',
  key: `${stored.athleteId}/${stored.alarm.alarmId}`,
  athleteId: stored.athleteId,
  atMs: stored.clearedAtMs ?? stored.alarm.raisedAtMs,
  body: stored,
});

export const settingsEntry = (change: StoredSession['settingsChanges'][number]): Entry => ({
  kind: 'settings',
  key: null,
  athleteId: change.athleteId,
  atMs: change.atMs,
  body: change,
});

export const linkEntry = (event: StoredLinkEvent): Entry => ({
  kind: 'link',
  key: null,
  athleteId: null,
  atMs: event.atMs,
  body: event,
});

export const changeEntry = (change: StoredChange): Entry => ({
  kind: 'change',
  key: null,
  athleteId: change.athleteId,
  atMs: change.atMs,
  body: change,
});

export const scheduleEntry = (schedule: StoredSchedule): Entry => ({
  kind: 'schedule',
  key: null,
  athleteId: schedule.athleteId,
  atMs: schedule.atMs,
  body: schedule,
});

export const unwatchedEntry = (span: UnwatchedSpan): Entry => ({
  kind: 'unwatched',
  key: String(span.fromMs),
  athleteId: null,
  atMs: span.toMs,
  body: span,
});

export const aliveEntry = (alive: StoredAlive): Entry => ({
  kind: 'alive',
  key: 'alive',
  athleteId: null,
  atMs: alive.atMs,
  body: alive,
});

/** What stands beside the packets of an imported session, in the order in which it is put in. */
export const besideEntries = (beside: ImportedBeside): Entry[] => [
  ...beside.sensors.map(sensorEntry),
  ...beside.alarms.map(alarmEntry),
  ...beside.settingsChanges.map(settingsEntry),
  ...beside.linkEvents.map(linkEntry),
  ...beside.changes.map(changeEntry),
  ...beside.schedules.map(scheduleEntry),
  ...beside.unwatched.map(unwatchedEntry),
];
