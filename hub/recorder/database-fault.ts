// What SQLite and the file system say when they fail, as one HubError that says what to do.

import { accessSync, constants } from 'node:fs';
import { said } from '../../shared/said.ts';
import { HubError } from '../base/hub-error.ts';

/** `path` is the file or directory a person would look at. A HubError passes through unchanged. */
export function databaseFault(cause: unknown, path: string): HubError {
  if (cause instanceof HubError) return cause;
  const code = codeOf(cause);
  if (/^SQLITE_(CORRUPT|NOTADB|FORMAT|MISMATCH)/.test(code) || code === 'ERR_STRING_TOO_LONG')
    return damaged(path, cause);
  if (/^SQLITE_(BUSY|LOCKED|PROTOCOL)/.test(code))
    return new HubError('data.locked', said('data.locked', { path }), cause);
  if (/^SQLITE_FULL/.test(code) || code === 'ENOSPC' || code === 'EDQUOT')
    return new HubError('data.full', said('data.full', { path }), cause);
  // SQLite calls a medium that has become read-only an input or output error, as it calls one that fails.
  if (code === 'EROFS' || (code.startsWith('SQLITE_IOERR') && isReadOnly(path)))
    return new HubError('data.unwritable', said('data.readOnly', { path }), cause);
  if (/^SQLITE_(READONLY|CANTOPEN|PERM|AUTH)/.test(code) || /^(EACCES|EPERM)$/.test(code))
    return unwritable(path, cause);
  return new HubError(
    'data.failed',
    said('data.failed', { path, reason: cause instanceof Error ? cause.message : String(cause) }),
    cause,
  );
}

function isReadOnly(path: string): boolean {
  try {
    accessSync(path, constants.W_OK);
    return false;
  } catch (cause) {
    return codeOf(cause) === 'EROFS';
  }
}

export function damaged(path: string, cause?: unknown): HubError {
  return new HubError('data.corrupt', said('data.corrupt', { path }), cause);
}

export function unwritable(path: string, cause?: unknown): HubError {
  return new HubError('data.unwritable', said('data.unwritable', { path }), cause);
}

function codeOf(cause: unknown): string {
  return typeof cause === 'object' && cause !== null && 'code' in cause ? String(cause.code) : '';
}
