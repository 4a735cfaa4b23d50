// A PostgreSQL of its own in a folder that is thrown away: one local socket, nobody else's data, never as root. Asked by psql,
// which comes with it.

import { execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { chmodSync, existsSync, mkdtempSync, readdirSync, realpathSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { pathOf } from './run-peer.ts';

/** Where Debian puts them: one folder a version, not on the path. */
const debianFolder = '/usr/lib/postgresql';

export interface PostgresCluster {
  readonly version: string;
  /** What psql prints, of rows alone. */
  ask(script: string): string;
  close(): Promise<void>;
}

/** The folder of PostgreSQL's programs; undefined where it is not on this machine. */
export function postgresPrograms(): string | undefined {
  const onPath = pathOf('initdb');
  if (onPath !== undefined) return dirname(realpathSync(onPath));
  if (!existsSync(debianFolder)) return undefined;
  return readdirSync(debianFolder)
    .toSorted((one, other) => Number(other) - Number(one))
    .map((version) => join(debianFolder, version, 'bin'))
    .find((folder) => existsSync(join(folder, 'initdb')));
}

export async function startPostgres(programs: string): Promise<PostgresCluster> {
  const isRoot = process.getuid?.() === 0;
  // It refuses to run as root.
  const asUser = isRoot ? ['runuser', '-u', 'nobody', '--'] : ['env'];
  const run = (program: string, args: readonly string[]): string =>
    execFileSync(asUser[0]!, [...asUser.slice(1), join(programs, program), ...args], {
      encoding: 'utf8',
      cwd: tmpdir(),
      stdio: ['ignore', 'pipe', 'pipe'],
    });
  const folder = mkdtempSync(join(tmpdir(), 'slackwater-postgres-'));
  if (isRoot) chmodSync(folder, 0o777);
  const data = join(folder, 'data');
  run('initdb', ['-D', data, '-U', 'bench', '--auth=trust', '-E', 'UTF8', '--locale=C', '--no-sync']);
  const server = spawn(
    asUser[0]!,
    [...asUser.slice(1), join(programs, 'postgres'), '-D', data, '-k', folder, '-h', '', '-p', '5432'],
    { stdio: 'ignore', cwd: tmpdir() },
  );
  const ask = (script: string): string =>
    execFileSync(
      join(programs, 'psql'),
      ['-h', folder, '-U', 'bench', '-d', 'postgres', '-X', '-A', '-t', '-q', '-v', 'ON_ERROR_STOP=1'],
      { input: script, encoding: 'utf8', maxBuffer: 2 ** 28, stdio: ['pipe', 'pipe', 'pipe'] },
    );
  for (let tries = 0; ; tries += 1) {
    try {
      ask('SELECT 1;');
      break;
    } catch (error) {
      if (tries === 100 || server.exitCode !== null) {
        server.kill();
        throw error;
      }
      await pause(100);
    }
  }
  return {
    version: ask('SHOW server_version;').trim(),
    ask,
    async close() {
      const ended = once(server, 'exit');
      run('pg_ctl', ['-D', data, '-m', 'immediate', 'stop']);
      await ended;
      rmSync(folder, { recursive: true, force: true });
    },
  };
}
