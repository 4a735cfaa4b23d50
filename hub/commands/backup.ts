// The commands `slackwater backup FILE` and `slackwater restore FILE`: all recordings out to one file, and back.

import { existsSync } from 'node:fs';
import { join, resolve } from 'node:path';
import type { CommandIo } from '../base/command-io.ts';
import { readConfig } from '../base/config.ts';
import { HubError } from '../base/hub-error.ts';
import { systemClock } from '../base/system-clock.ts';
import { writeBackupFile } from '../recorder/backup/backup-file.ts';
import { restoreBackup } from '../recorder/backup/restore-backup.ts';
import { databaseFileName } from '../recorder/data-directory.ts';
import { openSqliteStore, type SqliteStore } from '../recorder/sqlite-store.ts';

function oneFile(positionals: readonly string[], what: string): string {
  const [file] = positionals;
  if (file === undefined || positionals.length > 1)
    throw new HubError('config.badFlag', `Name one file ${what}.`);
  return resolve(file);
}

export async function runBackup(argv: string[], io: CommandIo): Promise<number> {
  const { config, positionals } = readConfig(argv, io.env);
  const path = oneFile(positionals, 'to write the backup to');
  // Opening would make them: an empty backup helps nobody.
  if (!existsSync(join(config.data, databaseFileName)))
    throw new HubError(
      'config.badValue',
      `There are no recordings in ${config.data}. Say where they are: --data FOLDER.`,
    );
  const store = openForBackup(config.data);
  try {
    await writeBackupFile(store, path);
    const sessionCount = store.listSessions().length;
    io.stdout.write(
      `${sessionCount} ${sessionCount === 1 ? 'recording' : 'recordings'} backed up to ${path}\n`,
    );
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
      throw new HubError(
        'data.locked',
        `A hub is running on the recordings in ${directory}. Take the backup from its page, or stop it first.`,
        cause,
      );
    throw cause;
  }
}

export async function runRestore(argv: string[], io: CommandIo): Promise<number> {
  const { config, positionals } = readConfig(
    argv.filter((argument) => argument !== '--replace'),
    io.env,
  );
  const restored = await restoreBackup({
    backupPath: oneFile(positionals, 'to restore'),
    directory: config.data,
    replace: argv.includes('--replace'),
    wallNowMs: systemClock.wallNowMs(),
  });
  const { sessionCount, athleteCount, movedAsideTo } = restored;
  io.stdout.write(`${sessionCount} recordings and ${athleteCount} athletes restored to ${config.data}\n`);
  if (movedAsideTo !== null) io.stdout.write(`What was there before is kept in ${movedAsideTo}\n`);
  return 0;
}
