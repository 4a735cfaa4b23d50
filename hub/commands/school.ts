// slackwater school: the archive and the pages of several hubs, until a signal ends it.

import { userInfo } from 'node:os';
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
  if (argv[0] === 'config') return runConfig(argv.slice(1), io);
  if (argv[0] === 'release') return runRelease(argv.slice(1), io);
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

const ownFlags = ['to', 'hubs', 'without'] as const;

/** The message server's settings: who its users are, each with a file. */
async function runConfig(argv: string[], io: CommandIo): Promise<number> {
  const own: { [Name in (typeof ownFlags)[number]]?: string } = {};
  let rest = argv;
  for (const name of ownFlags) {
    const at = rest.indexOf(`--${name}`);
    if (at === -1) continue;
    own[name] = rest[at + 1] ?? '';
    rest = rest.toSpliced(at, 2);
  }
  const { config, positionals } = readConfig(rest, io.env);
  const { school: address, certificate, key } = config;
  const hubs = namesIn(own.hubs);
  const without = namesIn(own.without);
  if (own.to === undefined || own.to === '' || address === undefined || positionals.length > 0)
    throw new HubError('config.badFlag', told(schoolWords.configUsage));
  const { writeServerConfig } = await import('../school/nats/write-server-config.ts');
  const written = writeServerConfig({
    folder: own.to,
    address,
    school: config['school-name'],
    hubs,
    without,
    gigabytes: config['school-buffer'],
    ...(certificate !== undefined && key !== undefined && { tls: { certificate, key } }),
  });
  for (const line of [
    schoolWords.forServer(written.server),
    schoolWords.forSchool(written.school),
    ...written.hubs.map(({ name, path, isNew }) => schoolWords.forHub(name, path, isNew)),
    ...written.removed.map(schoolWords.shutOut),
    schoolWords.secrets,
  ])
    io.stdout.write(`${line}\n`);
  return 0;
}

const namesIn = (list = ''): string[] =>
  list
    .split(',')
    .map((name) => name.trim())
    .filter((name) => name !== '');

async function runRelease(argv: string[], io: CommandIo): Promise<number> {
  const { config, positionals } = readConfig(argv, io.env);
  const [name] = positionals;
  if (name === undefined || positionals.length > 1 || config.archive === undefined)
    throw new HubError('config.badFlag', told(schoolWords.releaseUsage));
  const { openTheArchive } = await import('../school/boot-school.ts');
  const archive = await openTheArchive(config.archive);
  try {
    const isKnown = await archive.releaseName(name, userInfo().username);
    io.stdout.write(`${isKnown ? schoolWords.released(name) : schoolWords.noSuchName(name)}\n`);
    return isKnown ? 0 : 2;
  } finally {
    await archive.close();
  }
}
