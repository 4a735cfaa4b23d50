// What SQLite and the file system say when they fail, as one HubError with a sentence that says what to do.

import { HubError } from '../base/hub-error.ts';

/** `path` is the file or directory a person would look at. A HubError passes through unchanged. */
export function databaseFault(cause: unknown, path: string): HubError {
  if (cause instanceof HubError) return cause;
  const code = codeOf(cause);
  if (/^SQLITE_(CORRUPT|NOTADB|FORMAT|MISMATCH)/.test(code) || code === 'ERR_STRING_TOO_LONG')
    return damaged(path, cause);
  if (/^SQLITE_(BUSY|LOCKED|PROTOCOL)/.test(code))
    return new HubError(
      'data.locked',
      `Another hub is already using ${path}. Close it, or start this one with another folder: --data FOLDER.`,
      cause,
    );
  if (/^SQLITE_FULL/.test(code) || code === 'ENOSPC' || code === 'EDQUOT')
    return new HubError(
      'data.full',
      `The disk that holds ${path} is full. Nothing recorded so far is lost: free some space, and recording goes on.`,
      cause,
    );
  if (/^SQLITE_(READONLY|CANTOPEN|PERM|AUTH)/.test(code) || /^(EACCES|EPERM|EROFS)$/.test(code))
    return unwritable(path, cause);
  return new HubError(
    'data.failed',
    `Reading or writing ${path} failed (${cause instanceof Error ? cause.message : String(cause)}). ` +
      'Check the disk, or start with another folder: --data FOLDER.',
    cause,
  );
}

export function damaged(path: string, cause?: unknown): HubError {
  return new HubError(
    'data.corrupt',
    `The recordings in ${path} are damaged, and the file was left as it is. ` +
      'Keep a copy of it, then start with another folder (--data FOLDER) or put a backup in its place.',
    cause,
  );
}

export function unwritable(path: string, cause?: unknown): HubError {
  return new HubError(
    'data.unwritable',
    `The hub may not write to ${path}. Give your user the right to, or start with another folder: --data FOLDER.`,
    cause,
  );
}

function codeOf(cause: unknown): string {
  return typeof cause === 'object' && cause !== null && 'code' in cause ? String(cause.code) : '';
}
