// The computer this program runs on, asked for what the checks want to know. Reads; changes nothing but a file of its own
// that it removes.

import { spawnSync } from 'node:child_process';
import { X509Certificate } from 'node:crypto';
import {
  accessSync,
  closeSync,
  constants,
  existsSync,
  fsyncSync,
  openSync,
  readdirSync,
  readFileSync,
  rmSync,
  statfsSync,
  statSync,
  writeSync,
} from 'node:fs';
import { get as getOverTls } from 'node:https';
import { createRequire } from 'node:module';
import { createServer, isIPv6 } from 'node:net';
import { dirname, join } from 'node:path';
import { performance } from 'node:perf_hooks';
import { systemClock } from '../base/system-clock.ts';
import { announcedHostName } from '../devices/lan/announcer.ts';
import { lanNames } from '../devices/lan/lan-names.ts';
import { findLoudspeaker } from '../outputs/loudspeaker.ts';
import { keptBackups } from '../recorder/backup/scheduled-backups.ts';
import { lookAtBluez } from '../sensors/bluetooth/bluez/look-at-bluez.ts';
import type { CertificateFacts, Computer, FolderState, PortState, RadioAdapter } from './computer.ts';

const require = createRequire(import.meta.url);
/** linux/capability.h: bit of CAP_NET_RAW. */
const capNetRaw = 13n;
const writeBytes = 64 * 1024;
const writeCount = 8;
const askPortWithinMs = 2_000;
const askClockWithinMs = 2_000;

export function thisComputer(): Computer {
  const isLinux = process.platform === 'linux';
  return {
    platform: process.platform,
    nodeVersion: process.versions.node,
    brokenModules,
    radioAdapters: () => (isLinux ? radioAdapters() : undefined),
    mayUseRadio: () => (isLinux ? hasNetRaw() : undefined),
    radioService: async () => (isLinux ? lookAtBluez() : undefined),
    soundPlayer() {
      const loudspeaker = findLoudspeaker({ clock: systemClock })?.(() => undefined);
      loudspeaker?.close();
      return loudspeaker?.name;
    },
    clockIsKept: () => (isLinux ? clockIsKept() : undefined),
    wallNowMs: () => systemClock.wallNowMs(),
    freeBytes,
    slowestWriteMs,
    folderState,
    portState,
    certificateIn,
    newestBackupMs: (folder) => keptBackups(folder)[0]?.madeWallAtMs,
    networkAddresses() {
      const { names, addresses } = lanNames(announcedHostName);
      return addresses.length === 0 ? [] : [...names, ...addresses];
    },
  };
}

async function brokenModules(): Promise<{ name: string; reason: string }[]> {
  const modules = [
    'better-sqlite3',
    ...(process.platform === 'linux' ? ['@abandonware/bluetooth-hci-socket'] : []),
  ];
  const broken: { name: string; reason: string }[] = [];
  for (const name of modules) {
    try {
      const loaded: unknown = require(name);
      // The database's native part is loaded when a database is opened.
      if (name === 'better-sqlite3')
        new (loaded as new (path: string) => { close(): void })(':memory:').close();
    } catch (error) {
      broken.push({
        name,
        reason: error instanceof Error ? (error.message.split('\n')[0] ?? '') : String(error),
      });
    }
  }
  return broken;
}

function radioAdapters(): RadioAdapter[] {
  const folder = '/sys/class/bluetooth';
  if (!existsSync(folder)) return [];
  return readdirSync(folder)
    .filter((name) => /^hci\d+$/.test(name))
    .map((name) => ({ name, blocked: isBlocked(join(folder, name)) }));
}

/** Linux rfkill: `soft` and `hard` are 1 while the adapter is switched off. */
function isBlocked(adapter: string): boolean {
  return readdirSync(adapter)
    .filter((name) => name.startsWith('rfkill'))
    .some((name) =>
      ['soft', 'hard'].some((kind) => readFileSync(join(adapter, name, kind), 'utf8').trim() === '1'),
    );
}

function hasNetRaw(): boolean {
  if (process.getuid?.() === 0) return true;
  const effective = /^CapEff:\s*([0-9a-f]+)$/m.exec(readFileSync('/proc/self/status', 'utf8'))?.[1];
  return effective !== undefined && ((BigInt(`0x${effective}`) >> capNetRaw) & 1n) === 1n;
}

/** systemd-timesyncd keeps a file while it has the time from the network. Of other daemons the kernel knows, which timedatectl(1)
 * reads out (NTPSynchronized) where there is one. */
function clockIsKept(): boolean | undefined {
  if (existsSync('/run/systemd/timesync/synchronized')) return true;
  if (existsSync('/run/systemd/timesync')) return false;
  const { stdout } = spawnSync('timedatectl', ['show', '--property=NTPSynchronized', '--value'], {
    encoding: 'utf8',
    timeout: askClockWithinMs,
  });
  return { yes: true, no: false }[(stdout ?? '').trim()];
}

function freeBytes(folder: string): number {
  const { bavail, bsize } = statfsSync(nearestExisting(folder));
  return bavail * bsize;
}

function slowestWriteMs(folder: string): number {
  const path = join(nearestExisting(folder), `.slackwater-speed-${process.pid}`);
  const bytes = Buffer.alloc(writeBytes, 0x5a);
  const file = openSync(path, 'wx', 0o600);
  let slowestMs = 0;
  try {
    for (let i = 0; i < writeCount; i += 1) {
      const fromMs = performance.now();
      writeSync(file, bytes);
      fsyncSync(file);
      slowestMs = Math.max(slowestMs, performance.now() - fromMs);
    }
  } finally {
    closeSync(file);
    rmSync(path, { force: true });
  }
  return slowestMs;
}

function folderState(folder: string): FolderState {
  const exists = existsSync(folder);
  let writable = true;
  try {
    accessSync(nearestExisting(folder), constants.W_OK);
  } catch {
    // What access() refuses is the answer.
    writable = false;
  }
  const openToOthers = exists && process.platform !== 'win32' && (statSync(folder).mode & 0o077) !== 0;
  return { exists, writable: writable && (!exists || statSync(folder).isDirectory()), openToOthers };
}

function nearestExisting(folder: string): string {
  let at = folder;
  while (!existsSync(at) && dirname(at) !== at) at = dirname(at);
  return at;
}

async function portState(host: string, port: number, encrypted: boolean): Promise<PortState> {
  const code = await new Promise<string | undefined>((resolve) => {
    const server = createServer();
    server.once('error', (error: NodeJS.ErrnoException) => resolve(error.code ?? 'unknown'));
    server.listen(port, host, () => server.close(() => resolve(undefined)));
  });
  if (code === undefined) return 'free';
  if (code !== 'EADDRINUSE') return 'forbidden';
  // Of all interfaces, this machine's own.
  const at = host === '::' || host === '0.0.0.0' ? 'localhost' : isIPv6(host) ? `[${host}]` : host;
  try {
    const url = `${encrypted ? 'https' : 'http'}://${at}:${port}/api/health`;
    const body = JSON.parse(await (encrypted ? textOverTls(url) : textOf(url)));
    // As a hub answers, or refuses.
    const isOurs =
      typeof body === 'object' &&
      body !== null &&
      ('protocolVersion' in body || ('code' in body && 'said' in body));
    return isOurs ? 'slackwater' : 'other';
  } catch {
    // It answers, but not as a hub does.
    return 'other';
  }
}

const textOf = async (url: string): Promise<string> =>
  (await fetch(url, { signal: AbortSignal.timeout(askPortWithinMs) })).text();

/** Only whether a hub answers is asked, and nothing is told to it: who signed its certificate is no matter. */
const textOverTls = (url: string): Promise<string> =>
  new Promise((resolve, reject) => {
    const signal = AbortSignal.timeout(askPortWithinMs);
    getOverTls(url, { rejectUnauthorized: false, signal }, async (response) => {
      try {
        let text = '';
        for await (const chunk of response) text += String(chunk);
        resolve(text);
      } catch (error) {
        reject(error);
      }
    }).once('error', reject);
  });

function certificateIn(path: string): CertificateFacts | undefined {
  if (!existsSync(path)) return undefined;
  const pem = /-----BEGIN CERTIFICATE-----[\s\S]+?-----END CERTIFICATE-----/.exec(
    readFileSync(path, 'utf8'),
  )?.[0];
  if (pem === undefined) return undefined;
  const certificate = new X509Certificate(pem);
  return { endsMs: Date.parse(certificate.validTo), fingerprintSha256: certificate.fingerprint256 };
}
