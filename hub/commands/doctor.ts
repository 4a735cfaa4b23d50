// slackwater doctor: looks at the computer and prints what Slackwater needs of it, a line a check.

import { resolve } from 'node:path';
import { type Said, said } from '../../shared/said.ts';
import { doctorWords, programWords } from '../../shared/words/en-command-line.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import type { CommandIo } from '../base/command-io.ts';
import { type Config, readConfig } from '../base/config.ts';
import { HubError, told } from '../base/hub-error.ts';
import { checkComputer } from '../machine/check-computer.ts';
import type { CheckSettings } from '../machine/checks.ts';
import type { Computer } from '../machine/computer.ts';
import type { Finding } from '../machine/finding.ts';
import { thisComputer } from '../machine/this-computer.ts';

const stateWidth = 6;
const titleWidth = 18;

/** `argv` is what follows `doctor`. Answers the exit status: 0 when nothing is at fault, 2 else. */
export async function runDoctor(
  argv: string[],
  io: CommandIo,
  computer: Computer = thisComputer(),
): Promise<number> {
  const { format, rest } = formatIn(argv.filter((word) => word !== '--no-disk-speed'));
  const { config, positionals } = readConfig(rest, io.env);
  const [unexpected] = positionals;
  if (unexpected !== undefined)
    throw new HubError('config.badFlag', told(programWords.notExpected(unexpected)));
  const findings = await checkComputer(computer, {
    ...settingsOf(config),
    measuresDisk: !argv.includes('--no-disk-speed'),
  });
  if (format === 'json') io.stdout.write(`${JSON.stringify(findings)}\n`);
  else for (const finding of findings) io.stdout.write(`${lineOf(finding)}\n`);
  return findings.some(({ state }) => state === 'fault') ? 2 : 0;
}

function settingsOf(config: Config): Omit<CheckSettings, 'measuresDisk'> {
  const folder = config['backup-folder'];
  return {
    host: config.host,
    port: config.port,
    dataFolder: config.data,
    radio: config.radio,
    lan: config.lan ? { host: config['lan-host'], port: config['lan-port'] } : undefined,
    givenCertificate: config.certificate === undefined ? undefined : resolve(config.certificate),
    backups:
      folder === undefined ? undefined : { folder: resolve(folder), everyHours: config['backup-every'] },
  };
}

function formatIn(argv: readonly string[]): { format: 'text' | 'json'; rest: string[] } {
  const at = argv.indexOf('--format');
  if (at === -1) return { format: 'text', rest: [...argv] };
  const format = argv[at + 1];
  if (format !== 'text' && format !== 'json')
    throw new HubError('config.badFlag', told(doctorWords.badFormat(format ?? '')));
  return { format, rest: argv.toSpliced(at, 2) };
}

function lineOf({ check, state, said: sentence }: Finding): string {
  const words: readonly Said[] = [said(`machine.state.${state}`), said(`machine.${check}`), sentence];
  const [stateWord = '', title = '', text = ''] = words.map(sayInEnglish);
  return `${stateWord.padEnd(stateWidth)} ${title.padEnd(titleWidth)} ${text}`;
}
