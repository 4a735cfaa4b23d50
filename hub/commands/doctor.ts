// slackwater doctor: looks at the computer and prints what Slackwater needs of it, a line a check.

import { resolve } from 'node:path';
import { type Said, said } from '../../shared/said.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import type { CommandIo } from '../base/command-io.ts';
import { readConfig } from '../base/config.ts';
import { checkComputer } from '../machine/check-computer.ts';
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
  const { config } = readConfig(argv, io.env);
  const { host, port, data: dataFolder } = config;
  const folder = config['backup-folder'];
  const backups =
    folder === undefined ? undefined : { folder: resolve(folder), everyHours: config['backup-every'] };
  const findings = await checkComputer(computer, { host, port, dataFolder, backups });
  for (const finding of findings) io.stdout.write(`${lineOf(finding)}\n`);
  return findings.some(({ state }) => state === 'fault') ? 2 : 0;
}

function lineOf({ check, state, said: sentence }: Finding): string {
  const words: readonly Said[] = [said(`machine.state.${state}`), said(`machine.${check}`), sentence];
  const [stateWord = '', title = '', text = ''] = words.map(sayInEnglish);
  return `${stateWord.padEnd(stateWidth)} ${title.padEnd(titleWidth)} ${text}`;
}
