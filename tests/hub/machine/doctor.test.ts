// slackwater doctor: each check with a computer made for it, and the real one looked at without harm.

import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { runDoctor } from '../../../hub/commands/doctor.ts';
import { checkComputer } from '../../../hub/machine/check-computer.ts';
import type { Computer } from '../../../hub/machine/computer.ts';
import { thisComputer } from '../../../hub/machine/this-computer.ts';
import { type BluezFound, linkTimeoutIn } from '../../../hub/sensors/bluetooth/bluez/look-at-bluez.ts';
import { saidInGerman } from '../../../shared/words/de.ts';
import { saidInEnglish } from '../../../shared/words/en.ts';
import { formatsOf } from '../../../shared/words/formats.ts';
import { say } from '../../../shared/words/say.ts';

const healthy: Computer = {
  platform: 'linux',
  nodeVersion: '20.20.2',
  brokenModules: async () => [],
  radioAdapters: () => [{ name: 'hci0', blocked: false }],
  mayUseRadio: () => true,
  radioService: async () => ({ state: 'runs', version: '5.66', linkTimeoutMs: 5_120 }),
  soundPlayer: () => 'loudspeaker (aplay)',
  clockIsKept: () => true,
  wallNowMs: () => Date.UTC(2026, 10, 29),
  freeBytes: () => 50 * 2 ** 30,
  slowestWriteMs: () => 4,
  folderState: () => ({ exists: true, writable: true, openToOthers: false }),
  portState: async () => 'free',
  certificateIn: () => ({ endsMs: Date.UTC(2027, 5, 1), fingerprintSha256: '9F:3A' }),
  newestBackupMs: () => Date.UTC(2026, 10, 28, 20),
  networkAddresses: () => ['slackwater.local', '192.168.4.7'],
};
const settings = {
  dataFolder: '/var/lib/slackwater',
  host: '127.0.0.1',
  port: 7410,
  lan: { host: '::', port: 7443 },
  measuresDisk: true,
  backups: { folder: '/mnt/backups', everyHours: 24 },
};

test('a healthy computer is good throughout', async () => {
  const findings = await checkComputer(healthy, settings);
  expect(findings.length).toBeGreaterThan(10);
  expect(findings.filter(({ state }) => state !== 'good')).toEqual([]);
});

const ill: readonly (readonly [string, Partial<Computer>, string, 'warning' | 'fault'])[] = [
  ['Node is too old', { nodeVersion: '18.20.4' }, 'node', 'fault'],
  ['Node is too new', { nodeVersion: '24.21.0' }, 'node', 'fault'],
  ['Node is just too old', { nodeVersion: '20.18.9' }, 'node', 'fault'],
  [
    'a module was built for another Node',
    { brokenModules: async () => [{ name: 'better-sqlite3', reason: 'NODE_MODULE_VERSION 108' }] },
    'modules',
    'fault',
  ],
  ['the system keeps no list of adapters', { radioAdapters: () => undefined }, 'radio', 'warning'],
  ['the system asks for the right itself', { mayUseRadio: () => undefined }, 'radioRight', 'warning'],
  ['the system says nothing of its clock', { clockIsKept: () => undefined }, 'clock', 'warning'],
  [
    'the certificate has ended',
    { certificateIn: () => ({ endsMs: Date.UTC(2026, 10, 1), fingerprintSha256: '9F:3A' }) },
    'certificate',
    'warning',
  ],
  ['the adapter is off', { radioAdapters: () => [{ name: 'hci0', blocked: true }] }, 'radio', 'fault'],
  ['no right to the adapter', { mayUseRadio: () => false }, 'radioRight', 'fault'],
  ['nothing plays sound', { soundPlayer: () => undefined }, 'sound', 'warning'],
  ['the clock is not kept', { clockIsKept: () => false }, 'clock', 'warning'],
  ['the clock is years behind', { wallNowMs: () => 0 }, 'clock', 'fault'],
  ['the disk is full', { freeBytes: () => 1e6 }, 'disk', 'fault'],
  ['the disk is slow', { slowestWriteMs: () => 4_000 }, 'disk', 'warning'],
  [
    'nothing can be written',
    { folderState: (at) => ({ exists: true, writable: at === '/mnt/backups', openToOthers: false }) },
    'folder',
    'fault',
  ],
  [
    'others can read it',
    { folderState: () => ({ exists: true, writable: true, openToOthers: true }) },
    'folder',
    'warning',
  ],
  [
    'another program has the port',
    { portState: async (_host, port) => (port === 7410 ? 'other' : 'free') },
    'port',
    'fault',
  ],
  [
    'the port is not for us',
    { portState: async (_host, port) => (port === 7410 ? 'forbidden' : 'free') },
    'port',
    'fault',
  ],
  [
    'another program has the port for devices',
    { portState: async (_host, _port, encrypted) => (encrypted ? 'other' : 'free') },
    'lanPort',
    'fault',
  ],
  [
    'the backup disk is not plugged in',
    { folderState: (at) => ({ exists: at !== '/mnt/backups', writable: true, openToOthers: false }) },
    'backups',
    'fault',
  ],
  ['the backups are old', { newestBackupMs: () => Date.UTC(2026, 10, 26) }, 'backups', 'warning'],
  ['no backup was ever made', { newestBackupMs: () => undefined }, 'backups', 'warning'],
  [
    'the certificate ends',
    { certificateIn: () => ({ endsMs: Date.UTC(2026, 11, 4), fingerprintSha256: '9F:3A' }) },
    'certificate',
    'warning',
  ],
  ['no network', { networkAddresses: () => [] }, 'names', 'warning'],
  [
    'a check breaks',
    {
      clockIsKept: () => {
        throw new Error('no such file');
      },
    },
    'clock',
    'warning',
  ],
];

test.each(ill)('%s', async (_, part, check, state) => {
  const findings = await checkComputer({ ...healthy, ...part }, settings);
  const found = findings.filter((finding) => finding.state !== 'good');
  expect(found.map((finding) => [finding.check, finding.state])).toEqual([[check, state]]);
  // In both languages, and German is not English.
  const [first] = found;
  expect(say(first!.said, saidInGerman, formatsOf('de'))).not.toContain('no words');
});

test('without an adapter nothing of Bluetooth is good but the service that is not used', async () => {
  const findings = await checkComputer({ ...healthy, radioAdapters: () => [] }, settings);
  expect(
    findings
      .filter(({ state }) => state !== 'good')
      .map(({ check, state, said }) => [check, state, said.code]),
  ).toEqual([
    ['radio', 'fault', 'machine.radio.none'],
    ['radioRight', 'warning', 'machine.radioRight.noAdapter'],
  ]);
});

test('that no backups are made is not good, and it is said how to have them', async () => {
  const findings = await checkComputer(healthy, { ...settings, backups: undefined });
  const [found, ...more] = findings.filter(({ state }) => state !== 'good');
  expect(more).toEqual([]);
  expect(found).toMatchObject({ check: 'backups', state: 'warning' });
  for (const words of [saidInGerman, saidInEnglish]) {
    const text = say(found!.said, words, formatsOf('de'));
    expect(text).toContain('--backup-folder');
    expect(text).toContain('SLACKWATER_BACKUP_PASSPHRASE');
  }
});

describe('the road through the system’s Bluetooth service', () => {
  const runs = { state: 'runs', version: '5.66', linkTimeoutMs: 5_120 } as const;
  const found = async (radioService: BluezFound | undefined, radio: string) =>
    (
      await checkComputer(
        { ...healthy, mayUseRadio: () => false, radioService: async () => radioService },
        { ...settings, radio },
      )
    ).flatMap(({ check, state, said }) =>
      check === 'radioService' || check === 'radioRight' ? [[check, state, said.code]] : [],
    );

  test.each([
    ['runs and may be used', runs, 'good', 'machine.radioService.good'],
    [
      'its links end by a body in the way',
      { ...runs, linkTimeoutMs: undefined },
      'warning',
      'machine.radioService.shortLinks',
    ],
    ['does not run', { ...runs, state: 'absent' }, 'fault', 'radio.noDaemon'],
    ['is not for this user', { ...runs, state: 'forbidden' }, 'fault', 'radio.noPermission.bluez'],
  ] as const)('%s', async (_, service, state, code) => {
    // The right to the adapter itself is not asked for.
    expect(await found(service, 'bluez')).toEqual([
      ['radioRight', 'good', 'machine.radioRight.notNeeded'],
      ['radioService', state, code],
    ]);
  });

  test('is mentioned where the hub goes another way, and never a fault there', async () => {
    expect((await found(runs, 'noble'))[1]).toEqual(['radioService', 'good', 'machine.radioService.beside']);
    expect((await found({ ...runs, state: 'absent' }, 'noble'))[1]).toEqual([
      'radioService',
      'good',
      'machine.radioService.unused',
    ]);
    expect((await found(undefined, 'noble'))[1]).toEqual([
      'radioService',
      'good',
      'machine.radioService.none',
    ]);
  });

  test('how long its links last is read out of its settings, where they say so', () => {
    const folder = mkdtempSync(join(tmpdir(), 'slackwater-bluez-'));
    const path = join(folder, 'main.conf');
    const read = (text: string) => {
      writeFileSync(path, text);
      return linkTimeoutIn(path);
    };
    expect(read('[General]\nName=x\n[LE]\n#ConnectionSupervisionTimeout=\n')).toBeUndefined();
    expect(read('[LE]\nConnectionSupervisionTimeout=512\n')).toBe(5_120);
    expect(read('[GATT]\nConnectionSupervisionTimeout=512\n')).toBeUndefined();
    expect(linkTimeoutIn(join(folder, 'none'))).toBeUndefined();
    rmSync(folder, { recursive: true });
  });
});

describe('the command', () => {
  let folder: string;
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'slackwater-doctor-'));
  });
  afterEach(() => rmSync(folder, { recursive: true }));

  async function run(computer: Computer, argv: string[] = []) {
    let printed = '';
    const write = (text: string) => {
      printed += text;
      return true;
    };
    const stream = { write } as unknown as NodeJS.WritableStream;
    const status = await runDoctor(
      ['--data', folder, ...argv],
      { stdout: stream, stderr: stream, env: {} },
      computer,
    );
    return { status, lines: printed.trimEnd().split('\n') };
  }

  test('prints a line a check, and fails only for a fault', async () => {
    expect((await run(healthy)).status).toBe(0);
    expect((await run({ ...healthy, soundPlayer: () => undefined })).status).toBe(0);
    const { status, lines } = await run({ ...healthy, radioAdapters: () => [] });
    expect(status).toBe(2);
    expect(lines.filter((line) => line.startsWith('FAULT'))).toHaveLength(1);
    expect(lines.find((line) => line.startsWith('FAULT'))).toContain('Plug in a Bluetooth adapter');
  });

  test('looks at the real computer and leaves nothing behind', async () => {
    const { lines } = await run(thisComputer(), ['--port', '0']);
    expect(lines.find((line) => line.includes('Node'))).toMatch(/^good/);
    expect(lines.find((line) => line.includes('Native modules'))).toMatch(/^good/);
    expect(lines.find((line) => line.includes('Disk'))).toMatch(/MB free/);
    expect(readdirSync(folder)).toEqual([]);
  });

  test('a port that another program listens on is told', async () => {
    const other = createServer((socket) => socket.destroy());
    await new Promise<void>((resolve) => other.listen(0, '127.0.0.1', resolve));
    const address = other.address();
    const port = typeof address === 'object' && address !== null ? address.port : 0;
    const { lines } = await run(thisComputer(), ['--port', String(port)]);
    await new Promise((resolve) => other.close(resolve));
    expect(lines.find((line) => line.includes('Port of the page'))).toMatch(/^FAULT.*another program/);
  });
});
