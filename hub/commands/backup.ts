// The commands `slackwater backup FILE` and `slackwater restore FILE`: all recordings out to one file, and back.

import { existsSync } from 'node:fs';
import { mkdtemp, rm } from 'node:fs/promises';
import { dirname, join, resolve } from 'node:path';
import { said } from '../../shared/said.ts';
import { backupWords } from '../../shared/words/en-command-line.ts';
import type { CommandIo } from '../base/command-io.ts';
import { readConfig } from '../base/config.ts';
import { HubError, told } from '../base/hub-error.ts';
import { systemClock } from '../base/system-clock.ts';
import { writeBackupFile } from '../recorder/backup/backup-file.ts';
import { isLockedFile, unlockFile } from '../recorder/backup/locked-file.ts';
import { restoreBackup } from '../recorder/backup/restore-backup.ts';
import { databaseFileName } from '../recorder/data-directory.ts';
import { openSqliteStore, type SqliteStore } from '../recorder/sqlite-store.ts';

function oneFile(positionals: readonly string[], what: string): string {
  const [file] = positionals;
  if (file === undefined || positionals.length > 1) throw new HubError('config.badFlag', told(what));
  return resolve(file);
}

export async function runBackup(argv: string[], io: CommandIo): Promise<number> {
  const { config, positionals } = readConfig(argv, io.env);
  const path = oneFile(positionals, backupWords.oneFileToWrite);
  // Opening would make them: an empty backup helps nobody.
  if (!existsSync(join(config.data, databaseFileName)))
    throw new HubError('config.badValue', told(backupWords.noRecordings(config.data)));
  const store = openForBackup(config.data);
  try {
    await writeBackupFile(store, path);
    const sessionCount = store.listSessions().length;
    io.stdout.write(`${backupWords.written(sessionCount, path)}\n`);
  } finally {
    store.close();
  }
  return 0;
}

function openForBackup(directory: string): SqliteStore {
  try {
    return openSqliteStore({ directory });
  } catch (cause) {
    if (cause instanceof HubError && cause.code === 'data.locked')
      throw new HubError('data.locked', told(backupWords.hubRunning(directory)), cause);
    throw cause;
  }
}

/** The plain backup inside a locked one, or the very file where it is not locked. */
async function openLocked(
  path: string,
  passphrase: string | undefined,
): Promise<{ readonly path: string; readonly remove: () => Promise<void> }> {
  if (!existsSync(path) || !(await isLockedFile(path))) return { path, remove: async () => undefined };
  if (passphrase === undefined) throw new HubError('config.badValue', said('backup.noPassphrase'));
  const scratch = await mkdtemp(join(dirname(path), '.slackwater-unlocked-'));
  const remove = () => rm(scratch, { recursive: true, force: true });
  try {
    await unlockFile(path, join(scratch, 'backup'), passphrase);
    return { path: join(scratch, 'backup'), remove };
  } catch (error) {
    await remove();
    throw error;
  }
}

export async function runRestore(argv: string[], io: CommandIo): Promise<number> {
  const { config, positionals } = readConfig(
    argv.filter((argument) => argument !== '--replace'),
    io.env,
  );
  const given = oneFile(positionals, backupWords.oneFileToRestore);
  // Before what lies in the folder: a mistyped name is not to be answered by the way to move recordings aside.
  if (!existsSync(given)) throw new HubError('config.badValue', said('import.noSuchFile', { path: given }));
  const opened = await openLocked(given, config['backup-passphrase']);
  const restored = await restoreBackup({
    backupPath: opened.path,
    directory: config.data,
    replace: argv.includes('--replace'),
    wallNowMs: systemClock.wallNowMs(),
  }).finally(opened.remove);
  const { sessionCount, athleteCount, movedAsideTo } = restored;
  io.stdout.write(`${backupWords.restored(sessionCount, athleteCount, config.data)}\n`);
  if (movedAsideTo !== null) io.stdout.write(`${backupWords.keptAside(movedAsideTo)}\n`);
  return 0;
}
