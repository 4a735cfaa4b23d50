// Starts the hub and starts it again when it ends, as the unit in hub/packaging does: Restart=always after RestartSec, what is
// left of the old process group ended with it (KillMode).

import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { enterByLink } from '../support/own-person.ts';

const root = new URL('../..', import.meta.url).pathname;
const outDirectory = join(root, 'dist', `resume-hub-${process.pid}`);
process.once('exit', () => rmSync(outDirectory, { recursive: true, force: true }));
let built = false;

/** The program as `npm run build:hub` bundles it, with an entry of the bench's own. */
function buildResumeHub(): string {
  const entries = [
    'hub/main.ts',
    'hub/recorder/thread/recorder-worker.ts',
    'hub/outputs/watchdog/watchdog-child.ts',
    'hub/recordings/review/review-worker.ts',
    'hub/recordings/import/import-worker.ts',
    'tests/bench/resume-hub.ts',
  ].map((path) => join(root, path));
  if (!built)
    execFileSync(join(root, 'node_modules', '.bin', 'esbuild'), [
      ...entries,
      '--bundle',
      '--splitting',
      '--platform=node',
      '--format=esm',
      '--target=node20',
      `--outdir=${outDirectory}`,
      `--outbase=${join(root, 'hub')}`,
      '--packages=external',
      '--log-level=error',
    ]);
  built = true;
  return join(outDirectory, '_.._', 'tests', 'bench', 'resume-hub.js');
}

/** `RestartSec` of the unit, milliseconds. */
function restartMsOfUnit(): number {
  const unit = readFileSync(join(root, 'hub/packaging/slackwater.service'), 'utf8');
  const [, value = '', unitName = ''] = /^RestartSec=(\d+)(ms)?$/m.exec(unit) ?? [];
  return Number(value) * (unitName === 'ms' ? 1 : 1_000);
}

/** Fills the memory of the program that it is required by, once it is told to. */
const outOfMemory = `
if (process.argv[1]?.endsWith('resume-hub.js')) process.on('SIGUSR2', () => {
  const kept = [];
  for (;;) kept.push(new Array(100_000).fill(Math.random()).map(String));
});`;

export interface SupervisorOptions {
  readonly port: number;
  readonly worldSocket: string;
  readonly watchdog: boolean;
  /** Old space of the hub, MB; unbounded when left out. */
  readonly oldSpaceMb?: number;
  /** Later than the unit would, so that a page is seen without a hub. */
  readonly restartMs?: number;
}

export class Supervisor {
  readonly folder = mkdtempSync(join(tmpdir(), 'slackwater-resume-'));
  readonly url: string;
  readonly #options: SupervisorOptions;
  readonly #entry = buildResumeHub();
  readonly #hook = join(this.folder, 'hook.cjs');
  #child: ChildProcess | undefined;
  #stopped = false;
  output = '';
  startCount = 0;
  /** Resolved anew with each hub that says its address. */
  #opened: (link: string) => void = () => undefined;

  constructor(options: SupervisorOptions) {
    this.#options = options;
    this.url = `http://127.0.0.1:${options.port}`;
    writeFileSync(this.#hook, outOfMemory);
  }

  /** Resolves when the first one says its address. */
  async start(): Promise<void> {
    const link = await new Promise<string>((resolve) => {
      this.#opened = resolve;
      this.#begin();
    });
    await enterByLink(link);
  }

  get pid(): number {
    return this.#child?.pid ?? 0;
  }

  signal(signal: NodeJS.Signals): void {
    this.#child?.kill(signal);
  }

  stop(): void {
    this.#stopped = true;
    this.#endGroup();
    rmSync(this.folder, { recursive: true, force: true });
  }

  #begin(): void {
    if (this.#stopped) return;
    this.startCount += 1;
    const { port, worldSocket, watchdog, oldSpaceMb } = this.#options;
    const child = spawn(
      process.execPath,
      [
        ...(oldSpaceMb === undefined ? [] : [`--max-old-space-size=${oldSpaceMb}`]),
        '--require',
        this.#hook,
        this.#entry,
        '--port',
        String(port),
        '--data',
        join(this.folder, 'data'),
        '--no-open',
        '--no-alarm-sound',
        '--supervised',
        ...(watchdog ? [] : ['--no-watchdog']),
      ],
      {
        cwd: root,
        env: { ...process.env, RESUME_WORLD: worldSocket, SLACKWATER_LOG: 'error', TMPDIR: this.folder },
        stdio: ['ignore', 'pipe', 'pipe'],
        detached: true,
      },
    );
    this.#child = child;
    const hear = (data: unknown): void => {
      this.output = (this.output + String(data)).slice(-20_000);
      const link = /Open (http:\/\/\S+)/.exec(String(data))?.[1];
      if (link !== undefined) this.#opened(link);
    };
    child.stdout.on('data', hear);
    child.stderr.on('data', hear);
    child.once('exit', () => {
      if (this.#stopped) return;
      setTimeout(() => this.#begin(), this.#options.restartMs ?? restartMsOfUnit());
    });
  }

  #endGroup(): void {
    try {
      process.kill(-this.pid, 'SIGKILL');
    } catch {
      // It has ended.
    }
  }
}
