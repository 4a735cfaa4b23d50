// One file with all of a hub's recordings: a line of text with a checksum, then a whole SQLite database. Joined devices
// and the certificate are not in it: they are keys of one machine, not recordings.

import { createHash } from 'node:crypto';
import { createReadStream, createWriteStream, existsSync, mkdtempSync, rmSync, statSync } from 'node:fs';
import { link, open, unlink } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { pipeline } from 'node:stream/promises';
import { type Said, said } from '../../../shared/said.ts';
import { HubError } from '../../base/hub-error.ts';
import type { HubStore } from '../../base/ports/hub-store.ts';
import { databaseFault } from '../database-fault.ts';

/** The line is always this long, its rest filled with spaces, so that the database begins at a known place. */
const headBytes = 128;
const headPattern = /^SLACKWATER-BACKUP 1 sha256=([0-9a-f]{64}) bytes=(\d{1,15}) *\n$/;
const headText = (sha256: string, bytes: number): string =>
  `${`SLACKWATER-BACKUP 1 sha256=${sha256} bytes=${bytes}`.padEnd(headBytes - 1, ' ')}\n`;

/**
 * Writes a backup of `store` to `path`, readable by this user alone. Throws `config.badValue` for a file that is
 * there already and `data.*` for a disk that fails; then nothing is left at `path`. A session being recorded goes on.
 */
export async function writeBackupFile(
  store: Pick<HubStore, 'writeDatabaseCopy'>,
  path: string,
): Promise<void> {
  if (existsSync(path)) throw new HubError('config.badValue', said('backup.fileThere', { path }));
  let scratch: string | undefined;
  try {
    // Beside its place: put there whole at the end, and on a disk that was chosen for it.
    scratch = mkdtempSync(join(dirname(path), '.slackwater-backup-'));
    const database = join(scratch, 'database');
    const whole = join(scratch, 'whole');
    await store.writeDatabaseCopy(database);
    const { size } = statSync(database);
    const hash = createHash('sha256');
    await pipeline(createReadStream(database), hash);
    const head = headText(hash.digest('hex'), size);
    const target = createWriteStream(whole, { mode: 0o600, flags: 'wx', flush: true });
    target.write(head);
    await pipeline(createReadStream(database), target);
    // A link fails where a file has come to be meanwhile; a rename would replace it.
    await link(whole, path);
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).code === 'EEXIST')
      throw new HubError('config.badValue', said('backup.fileThere', { path }), cause);
    if ((cause as NodeJS.ErrnoException).code === 'ENOENT')
      throw new HubError('config.badValue', said('backup.noFolder', { path }), cause);
    throw databaseFault(cause, path);
  } finally {
    if (scratch !== undefined) rmSync(scratch, { recursive: true, force: true });
  }
}

/**
 * Takes the database out of a backup to `target`, which must not exist. Throws `input.notFound` for a file that cannot
 * be read and `input.malformed` for one that is no backup, cut off or changed; then nothing is left at `target`.
 */
export async function extractBackup(path: string, target: string): Promise<void> {
  const refuse = (what: Said): HubError => new HubError('input.malformed', what);
  const file = await open(path, 'r').catch((cause: unknown) => {
    throw new HubError('input.notFound', said('backup.unreadable', { path }), cause);
  });
  try {
    const stats = await file.stat();
    const head = Buffer.alloc(headBytes);
    const { bytesRead } = stats.isFile() ? await file.read(head, 0, headBytes, 0) : { bytesRead: 0 };
    const found = headPattern.exec(head.toString('latin1', 0, bytesRead));
    if (found === null) throw refuse(said('backup.notABackup', { path }));
    const [, sha256, bytes] = found;
    if (stats.size < headBytes + Number(bytes)) throw refuse(said('backup.cutOff', { path }));
    if (stats.size > headBytes + Number(bytes)) throw refuse(said('backup.somethingAdded', { path }));
    const hash = createHash('sha256');
    const source = file.createReadStream({ start: headBytes, autoClose: false });
    source.on('data', (piece) => hash.update(piece));
    await pipeline(source, createWriteStream(target, { mode: 0o600, flags: 'wx', flush: true }));
    if (hash.digest('hex') !== sha256) throw refuse(said('backup.damaged', { path }));
  } catch (cause) {
    await unlink(target).catch(() => undefined);
    throw databaseFault(cause, target);
  } finally {
    await file.close();
  }
}

/** "slackwater-20250503-1705.backup", in UTC. */
export function backupFileName(wallAtMs: number): string {
  const at = new Date(wallAtMs).toISOString().slice(0, 16);
  return `slackwater-${at.replaceAll(/[-:]/g, '').replace('T', '-')}.backup`;
}
