// The command line: picks a command, runs it, and turns every failure into one clear sentence and an exit status.
// The only file that may exit the process.

import { programWords } from '../shared/words/en-command-line.ts';
import type { CommandIo } from './base/command-io.ts';
import { describeOptions } from './base/config.ts';
import { HubError } from './base/hub-error.ts';

type Command = (argv: string[], io: CommandIo) => Promise<number>;

// Loaded when asked for, so that analysing a file does not load a server and starting one does not load the analyser.
const commands: Record<string, () => Promise<Command>> = {
  start: async () => (await import('./commands/run-hub.ts')).runStart,
  demo: async () => (await import('./commands/run-hub.ts')).runDemo,
  replay: async () => (await import('./commands/run-hub.ts')).runReplay,
  analyze: async () => (await import('./commands/analyze/analyze.ts')).runAnalyze,
  profile: async () => (await import('./commands/profile-check.ts')).runProfileCheck,
  capture: async () => (await import('./commands/capture.ts')).runCapture,
  link: async () => (await import('./commands/link.ts')).runLink,
  backup: async () => (await import('./commands/backup.ts')).runBackup,
  restore: async () => (await import('./commands/backup.ts')).runRestore,
  doctor: async () => (await import('./commands/doctor.ts')).runDoctor,
  salvage: async () => (await import('./commands/salvage.ts')).runSalvage,
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
    io.stdout.write(`${programWords.usage(describeOptions())}\n`);
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
    const command = await load();
    return await command(named ? rest : argv, io);
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
