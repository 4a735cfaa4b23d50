// slackwater link [demo|replay]: prints a link to the page of a hub that runs, for whoever can read its data folder.

import { programWords } from '../../shared/words/en-command-line.ts';
import type { CommandIo } from '../base/command-io.ts';
import { readConfig } from '../base/config.ts';
import { HubError, told } from '../base/hub-error.ts';
import { systemClock } from '../base/system-clock.ts';
import { keepOwnKey } from '../devices/own-person/own-key.ts';
import { createOwnPerson } from '../devices/own-person/own-person.ts';
import { thisComputer } from '../machine/this-computer.ts';

/** Endings of the data folders that these commands keep apart (run-hub.ts). */
const folderEndings: Readonly<Record<string, string>> = {
  start: '',
  demo: '-demo',
  replay: '-replay',
  school: '-school',
};

export async function runLink(argv: string[], io: CommandIo): Promise<number> {
  const { config, positionals } = readConfig(argv, io.env);
  const [which = 'start', ...more] = positionals;
  const ending = folderEndings[which];
  if (ending === undefined || more.length > 0)
    throw new HubError('config.badFlag', told(programWords.notExpected(more[0] ?? which)));
  const ownPerson = createOwnPerson(keepOwnKey(`${config.data}${ending}`), systemClock);
  const host = config.host.includes(':') ? `[${config.host}]` : config.host;
  const page = `http://${host}:${config.port}`;
  io.stdout.write(`${page}/#own=${ownPerson.linkCode()}\n`);
  // Beside the link, which a hub started afterwards takes too.
  if ((await thisComputer().portState(config.host, config.port, false)) !== 'slackwater')
    io.stderr.write(`${programWords.noHubAt(page)}\n`);
  return 0;
}
