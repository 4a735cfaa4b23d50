// The command line: picks a command, runs it, and turns every failure into one clear sentence and an exit status.
// The only file that may exit the process.

import { commandHelp } from '../shared/words/en-command-help.ts';
import { programWords } from '../shared/words/en-command-line.ts';
import { findPathFault } from './base/answering-paths.ts';
import type { CommandIo } from './base/command-io.ts';
import { defaultDataDirectory, describeOptions } from './base/config.ts';
import { HubError } from './base/hub-error.ts';

type Command = (argv: string[], io: CommandIo) => Promise<number>;

// Loaded when asked for, so that analysing a file does not load a server and starting one does not load the analyser.
const commands: Record<string, () => Promise<Command>> = {
  start: async () => (await import('./commands/run-hub.ts')).runStart,
  demo: async () => (await import('./commands/run-hub.ts')).runDemo,
  replay: async () => (await import('./commands/run-hub.ts')).runReplay,
  analyze: async () => (await import('./commands/analyze/analyze.ts')).runAnalyze,
  profile: async () => (await import('./commands/profile-check.ts')).runProfileCheck,
  radio: async () => (await import('./commands/radio.ts')).runRadio,
  capture: async () => (await import('./commands/capture.ts')).runCapture,
  link: async () => (await import('./commands/link.ts')).runLink,
  backup: async () => (await import('./commands/backup.ts')).runBackup,
  restore: async () => (await import('./commands/backup.ts')).runRestore,
  doctor: async () => (await import('./commands/doctor.ts')).runDoctor,
  service: async () => (await import('./commands/service.ts')).runService,
  salvage: async () => (await import('./commands/salvage.ts')).runSalvage,
  school: async () => (await import('./commands/school.ts')).runSchool,
  plan: async () => (await import('./commands/plan-preview.ts')).runPlanPreview,
};

/** Runs the program and exits with its status: 0 done, 2 bad input or surroundings, 1 a fault of ours. */
export async function main(argv: string[]): Promise<void> {
  // A terminal, a pipe or a disk that takes no more lines ends no session.
  for (const stream of [process.stdout, process.stderr]) stream.on('error', () => undefined);
  const io: CommandIo = { stdout: process.stdout, stderr: process.stderr, env: process.env };
  process.exitCode = await run(argv, io);
}

async function run(argv: string[], io: CommandIo): Promise<number> {
  const [first, ...rest] = argv;
  if (first === 'help' || argv.includes('--help') || argv.includes('-h')) {
    const asked = first === 'help' ? rest[0] : first;
    if (
      first === 'help' &&
      asked !== undefined &&
      !asked.startsWith('-') &&
      commandHelp[asked] === undefined
    ) {
      io.stderr.write(`${programWords.noCommand(asked)}\n`);
      return 2;
    }
    const text = commandHelp[asked ?? ''] ?? programWords.usage(describeOptions());
    io.stdout.write(`${text}\n`);
    return 0;
  }
  if (first === '--version' || first === 'version') {
    const { hubVersion } = await import('./base/hub-version.ts');
    io.stdout.write(`${programWords.version(hubVersion, process.versions.node)}\n`);
    return 0;
  }
  const named = first !== undefined && !first.startsWith('-');
  const load = commands[named ? first : 'start'];
  if (load === undefined) {
    io.stderr.write(`${programWords.noCommand(first ?? '')}\n`);
    return 2;
  }
  try {
    const words = named ? rest : argv;
    const fault = await findPathFault(pathsIn(named ? first : 'start', words, io.env));
    if (fault !== undefined) {
      io.stderr.write(`slackwater: ${programWords.path[fault.fault](fault.path)}\n`);
      return 2;
    }
    const command = await load();
    return await command(words, io);
  } catch (error) {
    if (error instanceof HubError) {
      io.stderr.write(`slackwater: ${error.message}\n`);
      return 2;
    }
    io.stderr.write(
      `${programWords.ourFault(error instanceof Error ? (error.stack ?? error.message) : String(error))}
`,
    );
    return 1;
  }
}

/** Commands whose words are files or folders to be read. */
const readers: ReadonlySet<string> = new Set(['analyze', 'replay', 'profile', 'plan', 'restore']);

/** What a command will ask the disk for, as far as its words say. */
function pathsIn(command: string, words: readonly string[], env: NodeJS.ProcessEnv): string[] {
  const paths = new Set<string>();
  let data = env['SLACKWATER_DATA'] ?? defaultDataDirectory(env);
  words.forEach((word, index) => {
    const [flag = '', attached] = word.split('=', 2);
    const isValue = words[index - 1]?.startsWith('--') === true && !words[index - 1]!.includes('=');
    if (flag === '--data') data = attached ?? words[index + 1] ?? data;
    else if (flag === '--config' || flag === '--profile') paths.add(attached ?? words[index + 1] ?? '');
    else if (readers.has(command) && !word.startsWith('-') && !isValue) paths.add(word);
  });
  if (command !== 'analyze' || words.includes('--session')) paths.add(data);
  paths.delete('');
  return [...paths];
}
