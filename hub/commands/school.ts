// slackwater school: the archive and the pages of several hubs, until a signal ends it.

import { fileURLToPath } from 'node:url';
import { hubRunWords, programWords, schoolWords } from '../../shared/words/en-command-line.ts';
import type { CommandIo } from '../base/command-io.ts';
import { readConfig } from '../base/config.ts';
import { HubError, told } from '../base/hub-error.ts';
import { inviteFirstCoach } from '../devices/join/invitation.ts';
import { bootSchool } from '../school/boot-school.ts';
import { openInBrowser } from './browser-opener.ts';

/** The built program runs from dist/hub/, the page lies in dist/web/ beside it. */
const webDirectory = fileURLToPath(new URL('../web', import.meta.url));
/** Beside a hub of the same computer. */
const schoolPort = 7411;

export async function runSchool(argv: string[], io: CommandIo): Promise<number> {
  const { config, positionals } = readConfig(argv, io.env, { port: schoolPort, open: false });
  if (positionals.length > 0)
    throw new HubError('config.badFlag', told(programWords.notExpected(positionals[0] ?? '')));
  const school = await bootSchool({ ...config, data: `${config.data}-school` }, webDirectory);
  const { ownPerson } = school.joining;
  io.stdout.write(
    `${schoolWords.greeting(config['school-name'])}\n${hubRunWords.open(school.linkWith(ownPerson.linkCode()))}\n`,
  );
  const isTerminal = 'isTTY' in io.stdout && io.stdout.isTTY === true;
  for (const line of inviteFirstCoach(school.joining, isTerminal)) io.stdout.write(`${line}\n`);
  if (config.open) await openInBrowser(school.linkWith(ownPerson.openerCode()), io.env);
  await new Promise<void>((resolve) => {
    process.once('SIGINT', () => resolve());
    process.once('SIGTERM', () => resolve());
  });
  await school.stop();
  return 0;
}
