// The command `slackwater salvage --data FOLDER --to NEWFOLDER`: what can be proven of a damaged archive, as a new one.

import { existsSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { said } from '../../shared/said.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import type { CommandIo } from '../base/command-io.ts';
import { readConfig } from '../base/config.ts';
import { HubError } from '../base/hub-error.ts';
import { databaseFileName } from '../recorder/data-directory.ts';
import { archivesPutAside } from '../recorder/salvage/put-aside.ts';
import { salvage } from '../recorder/salvage/salvage.ts';
import { openSqliteStore } from '../recorder/sqlite-store.ts';

export async function runSalvage(argv: string[], io: CommandIo): Promise<number> {
  const at = argv.indexOf('--to');
  const to = at === -1 ? undefined : argv[at + 1];
  const { config, positionals } = readConfig(at === -1 ? argv : argv.toSpliced(at, 2), io.env);
  if (to === undefined || positionals.length > 0) throw new HubError('config.badFlag', said('salvage.usage'));
  const directory = resolve(to);
  if (existsSync(join(directory, databaseFileName)))
    throw new HubError('config.badValue', said('salvage.notEmpty', { directory }));
  const current = join(config.data, databaseFileName);
  const damaged = existsSync(config.data) ? archivesPutAside(config.data).at(-1) : undefined;
  const path = damaged ?? (existsSync(current) ? current : undefined);
  if (path === undefined)
    throw new HubError('config.badValue', said('salvage.nothing', { directory: config.data }));
  const done = salvage(path, directory);
  // Opened once: what was running is closed as interrupted, and what was written can be read.
  openSqliteStore({ directory }).close();
  const say = (line: string): void => void io.stdout.write(`${line}\n`);
  say(sayInEnglish(said('salvage.from', { path })));
  say(
    sayInEnglish(
      said('salvage.rescued', {
        sessions: done.sessionCount,
        packets: done.packetCount,
        entries: done.entryCount,
        athletes: done.athleteCount,
        documents: done.documentCount,
        directory,
      }),
    ),
  );
  if (done.missingPacketCount + done.unprovenRowCount + done.zeroedPageCount + done.headlessCount === 0)
    say(sayInEnglish(said('salvage.nothingMissing')));
  else
    say(
      sayInEnglish(
        said('salvage.lost', {
          packets: done.missingPacketCount,
          rows: done.unprovenRowCount,
          pages: done.zeroedPageCount,
          headless: done.headlessCount,
        }),
      ),
    );
  say(sayInEnglish(said('salvage.whatNext', { path, directory })));
  return 0;
}
