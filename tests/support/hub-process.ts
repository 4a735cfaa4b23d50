// The real program as a process of its own: built once, started with flags, stopped or killed by the test.

import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { buildsVariable } from '../tools/own-hub-processes.ts';
import { enterByLink } from './own-person.ts';

const root = new URL('../..', import.meta.url).pathname;
/** Beside the real build, so that a test run does not pull a program out from under a running hub. */
const outDirectory = `${process.env[buildsVariable] ?? join(root, 'dist', `test-hub-${process.pid}`)}-${process.pid}`;
let built = false;
const children = new Set<ChildProcess>();

// A test that fails half way must leave neither a running hub nor its build behind. Nobody hears of the end of a worker that the
// runner stops: what is left then ends with the run (own-hub-processes.ts).
process.once('exit', () => {
  for (const child of children) child.kill('SIGKILL');
  rmSync(outDirectory, { recursive: true, force: true });
});

/** Bundles the program as `npm run build:hub` does and answers with its entry. */
export function buildHub(): string {
  if (!built) {
    const entries = [
      'hub/main.ts',
      'hub/sensors/bluetooth/radio-child.ts',
      'hub/recorder/thread/recorder-worker.ts',
      'hub/outputs/watchdog/watchdog-child.ts',
      'hub/school/publish/publisher-worker.ts',
      'hub/recordings/review/review-worker.ts',
      'hub/recordings/import/import-worker.ts',
      'hub/commands/analyze/analyze-worker.ts',
    ].map((path) => join(root, path));
    execFileSync(join(root, 'node_modules', '.bin', 'esbuild'), [
      ...entries,
      '--bundle',
      '--splitting',
      '--platform=node',
      '--format=esm',
      '--target=node20',
      `--outdir=${outDirectory}`,
      '--packages=external',
      '--log-level=error',
    ]);
    built = true;
  }
  return join(outDirectory, 'main.js');
}

export interface FinishedCommand {
  readonly status: number;
  readonly stdout: string;
  readonly stderr: string;
}

/** `fileBlocks`: no file may grow beyond so many blocks of 512 bytes; a write beyond fails, as on a full disk. */
function start(args: readonly string[], env: Record<string, string>, fileBlocks?: number): ChildProcess {
  const entry = buildHub();
  const limited = ['-c', `trap '' XFSZ; ulimit -f ${fileBlocks}; exec "$@"`, 'sh', process.execPath];
  const child = spawn(
    fileBlocks === undefined ? process.execPath : 'sh',
    [
      ...(fileBlocks === undefined ? [] : limited),
      '--input-type=module',
      '-e',
      `import { main } from ${JSON.stringify(entry)}; await main(process.argv.slice(1));`,
      '--',
      ...args,
    ],
    {
      cwd: root,
      env: { PATH: process.env['PATH'] ?? '', HOME: process.env['HOME'] ?? '/', TZ: 'UTC', ...env },
      stdio: ['ignore', 'pipe', 'pipe'],
    },
  );
  children.add(child);
  child.once('exit', () => children.delete(child));
  return child;
}

export interface RunningCommand {
  readonly output: () => string;
  /** The exit status, once it has ended. */
  readonly ended: Promise<number | null>;
  signal(signal: 'SIGINT' | 'SIGKILL' | 'SIGSTOP' | 'SIGCONT'): void;
}

/** Starts a command that goes on until it is told to end. */
export function startCommand(args: readonly string[], env: Record<string, string> = {}): RunningCommand {
  const child = start(args, env);
  let output = '';
  const hear = (data: unknown): void => {
    output += String(data);
  };
  child.stdout!.on('data', hear);
  child.stderr!.on('data', hear);
  return {
    output: () => output,
    ended: once(child, 'exit').then(([status]) => status as number | null),
    signal: (signal) => void child.kill(signal),
  };
}

/** Runs a command that ends by itself. */
export async function runCommand(
  args: readonly string[],
  env: Record<string, string> = {},
): Promise<FinishedCommand> {
  const child = start(args, env);
  let stdout = '';
  let stderr = '';
  child.stdout!.on('data', (data) => {
    stdout += String(data);
  });
  child.stderr!.on('data', (data) => {
    stderr += String(data);
  });
  const [status] = (await once(child, 'close')) as [number | null];
  return { status: status ?? -1, stdout, stderr };
}

export interface HubProcess {
  readonly url: string;
  /** As it was printed, with the code that makes a browser the own person's. */
  readonly link: string;
  readonly output: () => string;
  readonly pid: number;
  /** Of the watchdog beside it; undefined while none runs. Linux only. */
  watchdogPid(): number | undefined;
  /** Asks it to stop and waits; the exit status. */
  stop(signal?: 'SIGINT' | 'SIGTERM'): Promise<number | null>;
  /** kill -9. */
  kill(): Promise<void>;
  signal(signal: 'SIGSTOP' | 'SIGCONT' | 'SIGUSR2'): void;
}

/** Starts a hub and resolves when it says its address; rejects with what it printed when it ends before. */
export async function startHub(
  args: readonly string[],
  env: Record<string, string> = {},
  { watched = false, fileBlocks }: { watched?: boolean; fileBlocks?: number } = {},
): Promise<HubProcess> {
  // A watchdog outlives a hub that is killed, as it should.
  const own = ['--no-open', '--no-alarm-sound', ...(watched ? [] : ['--no-watchdog'])];
  const child = start([...args, ...own], env, fileBlocks);
  let output = '';
  const link = await new Promise<string>((resolve, reject) => {
    const hear = (data: unknown) => {
      output += String(data);
      const found = /Open (http:\/\/\S+)/.exec(output);
      if (found?.[1] !== undefined) resolve(found[1]);
    };
    child.stdout!.on('data', hear);
    child.stderr!.on('data', hear);
    child.once('exit', (status) => reject(new Error(`the hub ended with ${status}: ${output}`)));
  });
  await enterByLink(link);
  const ended = once(child, 'exit') as Promise<[number | null]>;
  return {
    url: link.replace(/#.*/, ''),
    link,
    output: () => output,
    pid: child.pid!,
    watchdogPid: () => childrenOf(child.pid!).find((pid) => commandOf(pid).includes('watchdog-child')),
    async stop(signal = 'SIGINT') {
      child.kill(signal);
      const [status] = await ended;
      return status;
    },
    signal: (signal) => void child.kill(signal),
    async kill() {
      child.kill('SIGKILL');
      await ended;
    },
  };
}

/** Processes begun by a process. */
function childrenOf(pid: number): number[] {
  try {
    return readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8')
      .split(' ')
      .flatMap((text) => (text.trim() === '' ? [] : Number(text)));
  } catch {
    // It is gone.
    return [];
  }
}

function commandOf(pid: number): string {
  try {
    return readFileSync(`/proc/${pid}/cmdline`, 'utf8');
  } catch {
    return '';
  }
}
