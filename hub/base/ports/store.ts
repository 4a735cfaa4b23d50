// The recorder as a whole: everything one database keeps. Most of the hub asks for one of its parts only.

import type { Said } from '../../../shared/said.ts';
import type { Athletes } from './athletes.ts';
import type { Documents } from './documents.ts';
import type { Recordings } from './recordings.ts';
import type { SessionLog } from './session-log.ts';
import type { Summaries } from './summaries.ts';

/**
 * The recorder. Packets are buffered until `commit`, or until anything else is saved, which commits them with it.
 * After a commit returns, killing the process loses nothing. Every write may throw a `HubError` (`data.full`,
 * `data.failed`): what was buffered stays buffered and the next write tries again. Asking for a session, athlete
 * or order of calls that does not exist throws `data.refused`.
 */
export interface Store extends Athletes, SessionLog, Recordings, Summaries, Documents {
  /** Sessions that a crash left open and that opening this store closed as interrupted. */
  readonly interruptedSessionIds: readonly string[];
  /** What opening found that a person should know, a sentence each. */
  readonly notices: readonly Said[];
  /**
   * Writes everything committed to a new database file at `path`, which must not exist. Recording goes on meanwhile.
   * Throws `data.refused` where nothing is kept in a file.
   */
  writeDatabaseCopy(path: string): Promise<void>;
  /** Commits what is buffered and lets go of the files. A session still running will be found interrupted. */
  close(): void;
}
