// A real message server and a real database for tests of the school: started in a temporary folder on free ports, as a
// user without rights where the test runs as root, and stopped with the test.

import { type ChildProcess, execFile, spawn } from 'node:child_process';
import { once } from 'node:events';
import { chownSync, existsSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { connect, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import pg from 'pg';

const run = promisify(execFile);
/** `nobody` of Debian: PostgreSQL refuses to run as root. */
const unprivileged = { uid: 65_534, gid: 65_534 };
const isRoot = process.getuid?.() === 0;
const asUser = isRoot ? unprivileged : {};

const children = new Set<ChildProcess>();
const folders = new Set<string>();
// A test that fails half way must leave neither running.
process.once('exit', () => {
  for (const child of children) child.kill('SIGKILL');
  for (const folder of folders) rmSync(folder, { recursive: true, force: true });
});

export async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as { port: number };
  server.close();
  await once(server, 'close');
  return port;
}

function folderFor(name: string): string {
  const folder = mkdtempSync(join(tmpdir(), `slackwater-${name}-`));
  folders.add(folder);
  if (isRoot) chownSync(folder, unprivileged.uid, unprivileged.gid);
  return folder;
}

/** Resolves once somebody listens there; rejects when the process ends before. */
async function listening(child: ChildProcess, port: number, output: () => string): Promise<void> {
  for (;;) {
    if (child.exitCode !== null || child.signalCode !== null)
      throw new Error(`the server ended: ${output()}`);
    const isOpen = await new Promise<boolean>((resolve) => {
      const socket = connect(port, '127.0.0.1');
      socket.once('connect', () => {
        socket.destroy();
        resolve(true);
      });
      socket.once('error', () => resolve(false));
    });
    if (isOpen) return;
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

export interface TestServer {
  readonly pid: number;
  stop(signal?: 'SIGTERM' | 'SIGKILL' | 'SIGINT'): Promise<void>;
}

async function serve(
  program: string,
  args: readonly string[],
  port: number,
  user: { uid?: number; gid?: number },
  cwd: string,
): Promise<TestServer> {
  const child = spawn(program, args, { stdio: ['ignore', 'pipe', 'pipe'], cwd, ...user });
  children.add(child);
  child.once('exit', () => children.delete(child));
  let output = '';
  for (const stream of [child.stdout, child.stderr])
    stream.on('data', (data) => {
      output = (output + String(data)).slice(-4_000);
    });
  await listening(child, port, () => output);
  return {
    pid: child.pid!,
    async stop(signal = 'SIGTERM') {
      if (child.exitCode !== null || child.signalCode !== null) return;
      const ended = once(child, 'exit');
      child.kill(signal);
      await ended;
    },
  };
}

const natsProgram = ['/usr/sbin/nats-server', '/usr/bin/nats-server', '/usr/local/bin/nats-server'].find(
  existsSync,
);

export interface NatsServer extends TestServer {
  readonly url: string;
  readonly port: number;
  readonly folder: string;
  /** The same again, on the same port and with what it kept. */
  start(): Promise<void>;
}

/** `config`: lines of its configuration beside address, port and where it keeps its streams. */
export async function startNats(config = ''): Promise<NatsServer> {
  if (natsProgram === undefined) throw new Error('nats-server is not installed: apt-get install nats-server');
  const folder = folderFor('nats');
  const port = await freePort();
  const path = join(folder, 'nats.conf');
  writeFileSync(
    path,
    `listen: 127.0.0.1:${port}\njetstream { store_dir: "${folder}/jetstream", max_file: 8GB }\n${config}\n`,
  );
  const begin = () => serve(natsProgram, ['-c', path], port, asUser, folder);
  let server = await begin();
  return {
    port,
    folder,
    url: `nats://127.0.0.1:${port}`,
    get pid() {
      return server.pid;
    },
    stop: (signal) => server.stop(signal),
    start: async () => {
      server = await begin();
    },
  };
}

/** The newest that is installed. */
function postgresPrograms(): string {
  const root = '/usr/lib/postgresql';
  const versions = existsSync(root) ? readdirSync(root) : [];
  const newest = versions.sort((one, other) => Number(other) - Number(one))[0];
  if (newest === undefined) throw new Error('PostgreSQL is not installed: apt-get install postgresql');
  return join(root, newest, 'bin');
}

export interface PostgresServer extends TestServer {
  readonly url: string;
  readonly programs: string;
  start(): Promise<void>;
  /** A new empty database, or a copy of one that nobody is connected to; its address. */
  createDatabase(copyOf?: string): Promise<string>;
}

export async function startPostgres(): Promise<PostgresServer> {
  const programs = postgresPrograms();
  const folder = folderFor('postgres');
  const port = await freePort();
  const data = join(folder, 'data');
  await run(
    join(programs, 'initdb'),
    ['-D', data, '-U', 'school', '--auth=trust', '--no-sync', '--encoding=UTF8', '--locale=C.UTF-8'],
    { ...asUser, cwd: folder },
  );
  // Synced as it would be used: what these tests kill is processes, and a commit must survive that.
  const args = ['-D', data, '-p', String(port), '-h', '127.0.0.1', '-k', folder, '-c', 'shared_buffers=32MB'];
  const begin = () => serve(join(programs, 'postgres'), args, port, asUser, folder);
  let server = await begin();
  let databases = 0;
  const urlOf = (database: string): string => `postgres://school@127.0.0.1:${port}/${database}`;
  await answering(urlOf('postgres'));
  return {
    programs,
    url: urlOf('postgres'),
    get pid() {
      return server.pid;
    },
    // A fast shutdown does not wait for clients.
    stop: (signal = 'SIGINT') => server.stop(signal),
    start: async () => {
      server = await begin();
      await answering(urlOf('postgres'));
    },
    async createDatabase(copyOf) {
      databases += 1;
      const name = `school_${databases}`;
      await query(
        urlOf('postgres'),
        `CREATE DATABASE ${name} TEMPLATE ${copyOf?.split('/').at(-1) ?? 'template1'}`,
      );
      return urlOf(name);
    },
  };
}

/** It listens before it has recovered. */
async function answering(url: string): Promise<void> {
  for (;;) {
    try {
      await query(url, 'SELECT 1');
      return;
    } catch (error) {
      if ((error as { code?: string }).code !== '57P03') throw error;
      await new Promise((resolve) => setTimeout(resolve, 20));
    }
  }
}

/** The rows of one statement. */
export async function query<Row extends pg.QueryResultRow>(
  url: string,
  text: string,
  values: unknown[] = [],
): Promise<Row[]> {
  const client = new pg.Client({ connectionString: url });
  // A server that is stopped while the connection ends.
  client.on('error', () => undefined);
  await client.connect();
  try {
    return (await client.query<Row>(text, values)).rows;
  } finally {
    await client.end();
  }
}
