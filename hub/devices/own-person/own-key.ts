// The key by which the hub knows its own person: 32 random bytes in a file of the data folder that only they can read.

import { randomBytes } from 'node:crypto';
import { chmodSync, existsSync, mkdirSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { said } from '../../../shared/said.ts';
import { HubError } from '../../base/hub-error.ts';
import { replaceFile } from '../../base/replace-file.ts';

const keyBytes = 32;

/**
 * The key kept in the data folder, made where there is none or where it could be read by others (it may be known then).
 * Throws HubError `data.unwritable` when a new one cannot be kept.
 */
export function keepOwnKey(dataDirectory: string): Buffer {
  const path = join(dataDirectory, 'own-person.key');
  const kept = readKept(path);
  if (kept !== undefined) return kept;
  const key = randomBytes(keyBytes);
  try {
    mkdirSync(dataDirectory, { recursive: true, mode: 0o700 });
    replaceFile(path, `${key.toString('base64url')}\n`);
  } catch (error) {
    throw new HubError('data.unwritable', said('ownKey.notKept', { directory: dataDirectory }), error);
  }
  return key;
}

function readKept(path: string): Buffer | undefined {
  if (!existsSync(path)) return undefined;
  try {
    // Windows has no such bits; its user folders are private by inheritance.
    if (process.platform !== 'win32' && (statSync(path).mode & 0o077) !== 0) {
      chmodSync(path, 0o600);
      return undefined;
    }
    const key = Buffer.from(readFileSync(path, 'utf8').trim(), 'base64url');
    return key.length === keyBytes ? key : undefined;
  } catch {
    // Damaged or unreadable: made anew; browsers come in by a new link.
    return undefined;
  }
}
