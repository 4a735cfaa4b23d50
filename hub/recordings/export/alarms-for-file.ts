// The alarms of one athlete as files for other programs carry them: the whole record of each in words.

import type { AlarmPriority } from '../../../shared/schema-parts.ts';
import type { StoredAlarm } from '../../base/ports/stored-session.ts';

export interface AlarmForFile {
  readonly alarmId: string;
  readonly raisedAtMs: number;
  readonly clearedAtMs: number | null;
  /** The highest it had. */
  readonly priority: AlarmPriority;
  /** What it was raised with and how bad it got, then when it passed and who saw it. */
  readonly message: string;
}

export function alarmsForFile(alarms: readonly StoredAlarm[], athleteId: string): AlarmForFile[] {
  return alarms
    .filter((stored) => stored.athleteId === athleteId)
    .map(({ alarm, clearedAtMs }) => ({
      alarmId: alarm.alarmId,
      raisedAtMs: alarm.raisedAtMs,
      clearedAtMs,
      priority: alarm.highestPriority,
      message:
        `${alarm.message} ` +
        (alarm.acknowledgedAtMs === null
          ? 'Not acknowledged.'
          : `Acknowledged at ${(alarm.acknowledgedAtMs / 1000).toFixed(1)} s.`),
    }));
}
