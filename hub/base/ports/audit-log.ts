// Where it is written down who did what: added to, never changed but to take out somebody who was erased.

import type { AuditEntry } from '../../../shared/audit.ts';

export interface AuditLog {
  /** Returns at once: nobody waits for the disk, least of all an alarm. What cannot be written is logged. */
  append(entry: AuditEntry): void;
  /** The newest first, at most `most`, everything appended before included. */
  newest(most: number): Promise<readonly AuditEntry[]>;
  /** All that is kept, a JSON object a line, oldest first. */
  wholeText(): Promise<string>;
  /** Puts `erased` for the athlete's id and takes the names of their devices out, and these, folded, of every entry. */
  forgetAthlete(athleteId: string, names?: ReadonlySet<string>): Promise<void>;
  /** Resolves when everything is written. */
  close(): Promise<void>;
}
