// The parts of a school as they run: a message server, a database, the school and its hubs, each on a host of its own, ended by
// a signal and started again as a supervisor would.

import { type ChildProcess, execFileSync } from 'node:child_process';
import { once } from 'node:events';
import { appendFileSync, chownSync, mkdirSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { serverConfig } from '../../../hub/school/nats/server-config.ts';
import type { Network } from './namespaces.ts';

/** `nobody` of Debian: PostgreSQL refuses to run as root. */
const nobody = 65_534;
export const schoolName = 'bench';
const passwordOf = (name: string): string => `bench-password-of-${name}`;

/** A program that runs until it is ended, and then again. */
export class Part {
  readonly name: string;
  readonly #start: () => ChildProcess;
  /** Rejects while it does not answer. */
  readonly #answers: () => Promise<void> | void;
  readonly #logPath: string;
  #child: ChildProcess | undefined;
  startCount = 0;
  /** Not by us: each is a fault. It is started again, as a supervisor would. */
  unaskedEnds = 0;
  #isAsked = true;

  constructor(
    name: string,
    logFolder: string,
    start: () => ChildProcess,
    answers: () => Promise<void> | void,
  ) {
    this.name = name;
    this.#logPath = join(logFolder, `${name}.log`);
    this.#start = start;
    this.#answers = answers;
  }

  get pid(): number {
    return this.#child?.pid ?? 0;
  }

  get runs(): boolean {
    const child = this.#child;
    return child !== undefined && child.exitCode === null && child.signalCode === null;
  }

  /** Until it answers: one that ends at once, as a database does while what was before it is still there, is started anew. */
  async start(): Promise<void> {
    for (;;) {
      if (!this.runs) this.#begin();
      await pause(100);
      if (!this.runs) {
        await pause(200);
        continue;
      }
      try {
        await this.#answers();
        this.#isAsked = false;
        return;
      } catch {
        await pause(200);
      }
    }
  }

  #begin(): void {
    this.printed = '';
    const child = this.#start();
    this.#child = child;
    this.startCount += 1;
    this.#log(`--- started as ${child.pid}`);
    child.stdout?.on('data', (data) => this.#log(String(data)));
    child.stderr?.on('data', (data) => this.#log(String(data)));
    child.once('exit', (code, signal) => {
      this.#log(`--- ended with ${code ?? signal}`);
      if (this.#isAsked || this.#child !== child) return;
      this.unaskedEnds += 1;
      void pause(500).then(() => (this.#isAsked ? undefined : this.start()));
    });
  }

  signal(signal: NodeJS.Signals): void {
    if (this.runs) this.#child!.kill(signal);
  }

  async end(signal: NodeJS.Signals): Promise<void> {
    const child = this.#child;
    if (child === undefined || !this.runs) return;
    this.#isAsked = true;
    const ended = once(child, 'exit');
    child.kill(signal);
    await ended;
  }

  /** What it printed last, for who waits for a line. */
  printed = '';

  #log(text: string): void {
    this.printed = (this.printed + text).slice(-2_000);
    appendFileSync(this.#logPath, `${new Date().toISOString()} ${text.trimEnd()}\n`);
  }
}

const openssl = (folder: string, ...args: readonly string[]): void => {
  execFileSync('openssl', args, { cwd: folder, stdio: ['ignore', 'ignore', 'pipe'] });
};

/** An authority, and a certificate for each address; PEM files. */
export function makeCertificates(folder: string, addresses: Readonly<Record<string, string>>): void {
  openssl(
    folder,
    'req',
    '-x509',
    '-newkey',
    'ec',
    '-pkeyopt',
    'ec_paramgen_curve:prime256v1',
    '-nodes',
    '-days',
    '2',
    '-subj',
    '/CN=bench',
    '-keyout',
    'authority.key',
    '-out',
    'authority.pem',
  );
  for (const [name, address] of Object.entries(addresses)) {
    const extensions = join(folder, `${name}.ext`);
    writeFileSync(extensions, `subjectAltName=IP:${address}\n`);
    openssl(
      folder,
      'req',
      '-newkey',
      'ec',
      '-pkeyopt',
      'ec_paramgen_curve:prime256v1',
      '-nodes',
      '-subj',
      `/CN=${name}`,
      '-keyout',
      `${name}.key`,
      '-out',
      `${name}.csr`,
    );
    openssl(
      folder,
      'x509',
      '-req',
      '-in',
      `${name}.csr`,
      '-CA',
      'authority.pem',
      '-CAkey',
      'authority.key',
      '-CAcreateserial',
      '-days',
      '2',
      '-extfile',
      extensions,
      '-out',
      `${name}.pem`,
    );
    chownSync(join(folder, `${name}.key`), nobody, nobody);
  }
}

export interface PartsPlace {
  readonly network: Network;
  readonly folder: string;
  /** Where `makeCertificates` wrote. */
  readonly certificates: string;
}

const piped = { stdio: ['ignore', 'pipe', 'pipe'] as ['ignore', 'pipe', 'pipe'] };
const asNobody = ['setpriv', `--reuid=${nobody}`, `--regid=${nobody}`, '--clear-groups'];

export function natsPart({ network, folder, certificates }: PartsPlace, hubs: readonly string[]): Part {
  const path = join(folder, 'nats.conf');
  writeFileSync(
    path,
    serverConfig({
      school: schoolName,
      owner: { name: 'school', password: passwordOf('school') },
      hubs: hubs.map((name) => ({ name, password: passwordOf(name) })),
      storeFolder: join(folder, 'jetstream'),
      storeGigabytes: 6,
      tls: { certificate: join(certificates, 'nats.pem'), key: join(certificates, 'nats.key') },
      port: 4222,
    }),
  );
  return new Part(
    'nats',
    folder,
    () => network.spawn('nats', ['nats-server', '-c', path], piped),
    () => void network.run('nats', ['bash', '-c', 'exec 3<>/dev/tcp/127.0.0.1/4222']),
  );
}

export function postgresPart({
  network,
  folder,
  certificates,
}: PartsPlace): Part & { readonly psql: readonly string[] } {
  const root = '/usr/lib/postgresql';
  const newest = readdirSync(root).sort((one, other) => Number(other) - Number(one))[0] ?? '';
  const programs = join(root, newest, 'bin');
  const own = join(folder, 'postgres');
  mkdirSync(own);
  chownSync(own, nobody, nobody);
  const data = join(own, 'data');
  const passwordFile = join(own, 'password');
  writeFileSync(passwordFile, passwordOf('postgres'));
  chownSync(passwordFile, nobody, nobody);
  network.run('postgres', [
    ...asNobody,
    join(programs, 'initdb'),
    '-D',
    data,
    '-U',
    'school',
    '--auth=scram-sha-256',
    `--pwfile=${passwordFile}`,
    '--encoding=UTF8',
    '--locale=C.UTF-8',
  ]);
  // Readings go over TLS; from the database's own computer by its socket.
  writeFileSync(
    join(data, 'pg_hba.conf'),
    'local all all trust\nhostssl all all 10.77.0.0/24 scram-sha-256\n',
  );
  const psql = ['psql', '-h', own, '-U', 'school', '-d', 'postgres'];
  const part = new Part(
    'postgres',
    folder,
    () =>
      network.spawn(
        'postgres',
        [
          ...asNobody,
          join(programs, 'postgres'),
          '-D',
          data,
          '-k',
          own,
          '-c',
          'listen_addresses=*',
          '-c',
          'shared_buffers=64MB',
          '-c',
          'ssl=on',
          '-c',
          `ssl_cert_file=${certificates}/postgres.pem`,
          '-c',
          `ssl_key_file=${certificates}/postgres.key`,
        ],
        piped,
      ),
    () => void network.run('postgres', [join(programs, 'pg_isready'), '-q', '-h', own]),
  );
  return Object.assign(part, { psql });
}

/** `program`: what Node is given before the program's own words. */
export function schoolPart({ network, folder, certificates }: PartsPlace, program: readonly string[]): Part {
  const [nats, postgres] = [network.addressOf('nats'), network.addressOf('postgres')];
  const archive = `postgres://school:${passwordOf('postgres')}@${postgres}/postgres?sslmode=verify-full&sslrootcert=${certificates}/authority.pem`;
  const part: Part = new Part(
    'school',
    folder,
    () =>
      network.spawn(
        'school',
        [
          process.execPath,
          ...program,
          'school',
          '--school',
          `tls://${nats}:4222`,
          '--school-name',
          schoolName,
          '--school-user',
          'school',
          '--school-authority',
          `${certificates}/authority.pem`,
          '--data',
          join(folder, 'school'),
          '--port',
          '7411',
          '--log',
          'warn',
        ],
        {
          ...piped,
          env: {
            ...process.env,
            SLACKWATER_SCHOOL_PASSWORD: passwordOf('school'),
            SLACKWATER_ARCHIVE: archive,
          },
        },
      ),
    () => {
      if (!part.printed.includes('http://')) throw new Error('not open');
    },
  );
  return part;
}

/** `isSending`: to the school; else a hub by itself. */
export function hubPart(
  { network, folder, certificates }: PartsPlace,
  hub: string,
  settings: {
    readonly program: string;
    readonly athletes: number;
    readonly sessionMs: number;
    readonly isSending: boolean;
  },
): Part & { readonly dataFolder: string; readonly witness: string } {
  const dataFolder = join(folder, hub);
  const witness = join(folder, `${hub}.witness`);
  writeFileSync(witness, '');
  const school = settings.isSending
    ? [
        '--school',
        `tls://${network.addressOf('nats')}:4222`,
        '--school-name',
        schoolName,
        '--school-hub',
        hub,
        '--school-user',
        hub,
        '--school-authority',
        `${certificates}/authority.pem`,
      ]
    : [];
  const part: Part = new Part(
    hub,
    folder,
    () =>
      network.spawn(
        hub,
        [
          process.execPath,
          settings.program,
          '--data',
          dataFolder,
          '--port',
          '7410',
          '--no-open',
          '--no-watchdog',
          '--no-alarm-sound',
          '--log',
          'warn',
          ...school,
        ],
        {
          ...piped,
          env: {
            ...process.env,
            SLACKWATER_SCHOOL_PASSWORD: passwordOf(hub),
            PARTITION_ATHLETES: String(settings.athletes),
            PARTITION_SESSION_MS: String(settings.sessionMs),
            PARTITION_WITNESS: witness,
          },
        },
      ),
    () => {
      if (!part.printed.includes('runs')) throw new Error('not up');
    },
  );
  return Object.assign(part, { dataFolder, witness });
}
