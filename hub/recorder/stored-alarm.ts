// Alarms as they come out of the store: those of a session that is over have an end, also where a crash left none.

import type { SessionView } from '../../shared/views.ts';
import type { StoredAlarm } from '../base/ports/stored-session.ts';

/** What nobody ended, ended with the session. */
export function alarmsWithEnds(
  alarms: readonly StoredAlarm[],
  { status, endedAtMs }: SessionView,
): readonly StoredAlarm[] {
  if (status === 'recording') return alarms;
  return alarms.map((stored) =>
    stored.clearedAtMs === null ? { ...stored, clearedAtMs: endedAtMs } : stored,
  );
}
