// The hub's certificate: kept while it fits, renewed when it does not, and private.

import { createPrivateKey, generateKeyPairSync, X509Certificate } from 'node:crypto';
import { chmodSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { keepLanCertificate, type LanCertificate } from '../../../hub/devices/lan/lan-certificate.ts';
import type { LanNames } from '../../../hub/devices/lan/lan-names.ts';
import { wallMs } from '../../../shared/units.ts';

const dayMs = 24 * 3_600_000;
const nowMs = Date.UTC(2031, 4, 17);
const home: LanNames = { names: ['slackwater.local', 'harbour'], addresses: ['192.168.1.20'] };
const club: LanNames = { names: home.names, addresses: ['10.0.7.3'] };

let directory: string;
beforeEach(() => {
  directory = mkdtempSync(join(tmpdir(), 'slackwater-certificate-'));
});
afterEach(() => rmSync(directory, { recursive: true, force: true, maxRetries: 5 }));
const keep = (names = home, atMs = nowMs): Promise<LanCertificate> =>
  keepLanCertificate(directory, names, wallMs(atMs));
const path = () => join(directory, 'lan-certificate.pem');

test('it names the hub, serves TLS only, and its fingerprint is its own', async () => {
  const made = await keep();
  const certificate = new X509Certificate(made.certificatePem);
  expect(certificate.checkHost('slackwater.local')).toBe('slackwater.local');
  expect(certificate.checkHost('localhost')).toBe('localhost');
  expect(certificate.checkIP('192.168.1.20')).toBe('192.168.1.20');
  expect(certificate.checkHost('elsewhere.example')).toBeUndefined();
  expect(certificate.checkPrivateKey(createPrivateKey(made.keyPem))).toBe(true);
  expect(certificate.verify(certificate.publicKey)).toBe(true);
  expect(certificate.ca).toBe(false);
  expect(certificate.keyUsage).toEqual(['1.3.6.1.5.5.7.3.1']);
  expect(made.fingerprintSha256).toBe(certificate.fingerprint256);
  expect(made.fingerprintSha256).toMatch(/^([0-9A-F]{2}:){31}[0-9A-F]{2}$/);
});

test('it is good from yesterday for less than the 825 days that phones accept', async () => {
  const certificate = new X509Certificate((await keep()).certificatePem);
  expect(Date.parse(certificate.validFrom)).toBe(nowMs - dayMs);
  expect(Date.parse(certificate.validTo)).toBe(nowMs + 365 * dayMs);
});

test('it is made once and then kept', async () => {
  const first = await keep();
  const second = await keep(home, nowMs + 200 * dayMs);
  expect(first.isNew).toBe(true);
  expect(second).toEqual({ ...first, isNew: false });
});

test('it is renewed a month before its end, when the clock is before its start, and for another name', async () => {
  const { fingerprintSha256 } = await keep();
  expect((await keep(home, nowMs + 334 * dayMs)).isNew).toBe(false);
  const late = await keep(home, nowMs + 336 * dayMs);
  expect(late.isNew).toBe(true);
  expect(late.fingerprintSha256).not.toBe(fingerprintSha256);
  expect((await keep(home, nowMs)).isNew).toBe(true);
  const renamed = await keep({ ...home, names: ['slackwater.local', 'quay'] });
  expect(renamed.isNew).toBe(true);
  expect(new X509Certificate(renamed.certificatePem).checkHost('harbour')).toBeUndefined();
});

test('going between two networks renews it once, not each time', async () => {
  await keep(home);
  const atClub = await keep(club);
  expect(atClub.isNew).toBe(true);
  expect(await keep(home)).toMatchObject({ isNew: false, fingerprintSha256: atClub.fingerprintSha256 });
  expect((await keep(club)).isNew).toBe(false);
});

test('only this user can read it, even when it was found readable by others', async () => {
  await keep();
  expect(statSync(path()).mode & 0o777).toBe(0o600);
  chmodSync(path(), 0o644);
  expect((await keep()).isNew).toBe(false);
  expect(statSync(path()).mode & 0o777).toBe(0o600);
});

test.each([
  ['cut short', (text: string) => text.slice(0, 300)],
  ['without its key', (text: string) => text.slice(text.indexOf('-----BEGIN CERTIFICATE'))],
  ['of rubbish', () => 'rubbish'],
  [
    'with another key',
    (text: string) =>
      generateKeyPairSync('ec', { namedCurve: 'P-256' }).privateKey.export({ type: 'pkcs8', format: 'pem' }) +
      text.slice(text.indexOf('-----BEGIN CERTIFICATE')),
  ],
])('a file %s is made anew', async (_name, damage) => {
  await keep();
  writeFileSync(path(), damage(readFileSync(path(), 'utf8')));
  expect((await keep()).isNew).toBe(true);
  expect((await keep()).isNew).toBe(false);
});

test('a folder that cannot be written to is said in one sentence', async () => {
  writeFileSync(join(directory, 'file'), '');
  await expect(keepLanCertificate(join(directory, 'file', 'in'), home, wallMs(nowMs))).rejects.toMatchObject({
    code: 'data.unwritable',
    message: expect.stringContaining('--data'),
  });
});
