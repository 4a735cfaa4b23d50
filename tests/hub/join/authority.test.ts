// The hub's own authority: read and held against its limits by OpenSSL, which knows nothing of how it was made; its files read
// by those formats' own readers; certificates from elsewhere, and their renewal.

import { execFileSync, spawnSync } from 'node:child_process';
import { X509Certificate } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connect } from 'node:tls';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { type Authority, keepAuthority } from '../../../hub/devices/certificate/authority.ts';
import { authorityFile } from '../../../hub/devices/certificate/authority-files.ts';
import { comparisonCode } from '../../../hub/devices/certificate/comparison-code.ts';
import { isNamed, readGivenCertificate } from '../../../hub/devices/certificate/given-certificate.ts';
import {
  makeAuthorityCertificate,
  makeServerCertificate,
} from '../../../hub/devices/certificate/make-certificate.ts';
import { prepareLanAccess } from '../../../hub/devices/lan/lan-access.ts';
import { keepLanCertificate } from '../../../hub/devices/lan/lan-certificate.ts';
import { createDeviceServer } from '../../../hub/server/listening.ts';
import { wallMs } from '../../../shared/units.ts';
import { createFakeClock } from '../../support/fake-clock.ts';
import { inWords } from '../../support/in-words.ts';
import { testLog } from '../../support/serve-test-hub.ts';

const dayMs = 24 * 3_600_000;
const nowMs = wallMs(Date.now());
const home = { names: ['slackwater.local', 'harbour'], addresses: ['192.168.1.20'] };

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'slackwater-authority-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));
const file = (name: string, text: string): string => {
  const path = join(folder, name);
  writeFileSync(path, text);
  return path;
};
const keep = (atMs = nowMs) => keepAuthority(folder, [...home.names, 'localhost'], atMs);
const openssl = (...words: string[]): string => execFileSync('openssl', words, { encoding: 'utf8' });
/** Whether OpenSSL takes a server's certificate for `host`, trusting this authority alone. */
function isTaken(authority: Pick<Authority, 'certificatePem'>, certificatePem: string, host: string): string {
  const check = /^[\d.]+$|:/.test(host) ? '-verify_ip' : '-verify_hostname';
  const { stdout, stderr } = spawnSync(
    'openssl',
    [
      'verify',
      '-CAfile',
      file('ca.pem', authority.certificatePem),
      '-purpose',
      'sslserver',
      '-x509_strict',
      check,
      host,
      file('server.pem', certificatePem),
    ],
    { encoding: 'utf8' },
  );
  return /error \d+ at \d+ depth lookup: (.*)/.exec(`${stdout}${stderr}`)?.[1] ?? stdout.trim().slice(-2);
}

describe('the authority', () => {
  test('signs the hub’s certificate so that OpenSSL takes it, at its names and addresses and at no others', async () => {
    const authority = await keep();
    const { certificatePem } = await keepLanCertificate(folder, home, nowMs, authority);
    for (const host of ['slackwater.local', 'harbour', 'localhost', '192.168.1.20', '127.0.0.1'])
      expect(isTaken(authority, certificatePem, host), host).toBe('OK');
    expect(isTaken(authority, certificatePem, 'bank.example')).toMatch(/hostname mismatch/i);
    expect(new X509Certificate(certificatePem).ca).toBe(false);
  });

  test.each([
    ['another name', ['bank.example'], ['192.168.1.20']],
    ['a name beside ours', ['notslackwater.local'], []],
    ['an address of the internet', [], ['203.0.113.9']],
    ['an address just outside a private network', [], ['172.32.0.1']],
    ['an IPv6 address', [], ['2001:db8::1']],
  ])(
    'whoever steals its key and signs %s gets nothing by it: OpenSSL refuses',
    async (_of, names, addresses) => {
      const authority = await keep();
      const stolen = await makeServerCertificate({ names, addresses }, nowMs, nowMs + 90 * dayMs, authority);
      expect(isTaken(authority, stolen.certificatePem, names[0] ?? addresses[0] ?? '')).toMatch(
        /permitted subtree violation/,
      );
    },
  );

  test('nor may it make another authority', async () => {
    const authority = await keep();
    const text = openssl('x509', '-noout', '-text', '-in', file('ca.pem', authority.certificatePem));
    expect(text).toMatch(/Basic Constraints: critical\s+CA:TRUE, pathlen:0/);
    expect(text).toMatch(/Key Usage: critical\s+Certificate Sign\s/);
    expect(text).toMatch(/Name Constraints: critical\s+Permitted:/);
    expect(text).toContain('DNS:slackwater.local');
    expect(text).toContain('IP:192.168.0.0/255.255.0.0');
    expect(text).toContain('IP:172.16.0.0/255.240.0.0');
  });

  test('is made once, kept privately, and made anew in time', async () => {
    const first = await keep();
    expect(statSync(join(folder, 'lan-authority.pem')).mode & 0o777).toBe(0o600);
    const later = await keep(wallMs(nowMs + 3_000 * dayMs));
    expect(later).toMatchObject({ fingerprintSha256: first.fingerprintSha256, replaced: false });
    const anew = await keep(wallMs(nowMs + 3_300 * dayMs));
    expect(anew.replaced).toBe(true);
    expect(anew.fingerprintSha256).not.toBe(first.fingerprintSha256);
  });

  test('a self-made certificate gives way to one that it signs, once, and back', async () => {
    const own = await keepLanCertificate(folder, home, nowMs);
    const authority = await keep();
    const signed = await keepLanCertificate(folder, home, nowMs, authority);
    expect(signed).toMatchObject({ isNew: true, warnsAgain: true });
    expect(signed.fingerprintSha256).not.toBe(own.fingerprintSha256);
    expect(await keepLanCertificate(folder, home, nowMs, authority)).toMatchObject({ isNew: false });
    // Renewed by the same authority: who trusts it notices nothing.
    const renewed = await keepLanCertificate(folder, home, wallMs(nowMs + 340 * dayMs), authority);
    expect(renewed).toMatchObject({ isNew: true, warnsAgain: false });
    expect(await keepLanCertificate(folder, home, nowMs)).toMatchObject({ isNew: true, warnsAgain: true });
  });

  test('what it may not vouch for is left out of the certificate', async () => {
    const authority = await keep();
    const names = { names: [...home.names, 'quay'], addresses: ['203.0.113.9', '10.0.7.3'] };
    const { certificatePem } = await keepLanCertificate(folder, names, nowMs, authority);
    expect(new X509Certificate(certificatePem).subjectAltName).not.toMatch(/quay|203\.0/);
    expect(isTaken(authority, certificatePem, '10.0.7.3')).toBe('OK');
    expect((await keepLanCertificate(folder, names, nowMs, authority)).isNew).toBe(false);
  });
});

describe('its files', () => {
  const words = { title: 'A & B', description: '<trust>' };
  test('PEM and DER are the certificate alone, without a key', async () => {
    const { certificatePem, fingerprintSha256 } = await keep();
    for (const form of ['pem', 'der'] as const) {
      const { bytes } = authorityFile(form, certificatePem, words);
      expect(new X509Certificate(bytes).fingerprint256).toBe(fingerprintSha256);
      expect(bytes.includes('PRIVATE')).toBe(false);
    }
  });

  test('the profile is a property list with the same bytes, and says what it was told', async () => {
    const { certificatePem } = await keep();
    const { bytes } = authorityFile('mobileconfig', certificatePem, words);
    const read = JSON.parse(
      execFileSync(
        'python3',
        [
          '-c',
          'import plistlib,sys,json,base64;print(json.dumps(plistlib.loads(sys.stdin.buffer.read()),default=lambda b:base64.b64encode(b).decode()))',
        ],
        { input: bytes, encoding: 'utf8' },
      ),
    );
    expect(read).toMatchObject({
      PayloadType: 'Configuration',
      PayloadDisplayName: 'A & B',
      PayloadDescription: '<trust>',
      PayloadRemovalDisallowed: false,
      PayloadContent: [{ PayloadType: 'com.apple.security.root' }],
    });
    expect(Buffer.from(read.PayloadContent[0].PayloadContent, 'base64')).toEqual(
      new X509Certificate(certificatePem).raw,
    );
    expect(read.PayloadUUID).not.toBe(read.PayloadContent[0].PayloadUUID);
    expect(read.PayloadUUID).toMatch(/^[0-9A-F]{8}(-[0-9A-F]{4}){3}-[0-9A-F]{12}$/);
  });
});

test('the code to compare is what OpenSSL’s fingerprint begins with', async () => {
  const { certificatePem, fingerprintSha256 } = await keepLanCertificate(folder, home, nowMs);
  const digits = openssl('x509', '-noout', '-sha256', '-fingerprint', '-in', file('c.pem', certificatePem))
    .split('=')[1]!
    .replaceAll(':', '');
  const code = comparisonCode(fingerprintSha256);
  expect(code).toMatch(/^([0-9A-F]{4} ){3}[0-9A-F]{4}$/);
  expect(digits.startsWith(code.replaceAll(' ', ''))).toBe(true);
});

describe('a certificate from elsewhere', () => {
  /** One of an authority that names no hub of ours, as a course's own name would have. */
  async function made(names: readonly string[], endsInDays: number, beginsAtMs: number = nowMs) {
    return makeServerCertificate({ names, addresses: [] }, wallMs(beginsAtMs), nowMs + endsInDays * dayMs);
  }
  const write = (pair: { keyPem: string; certificatePem: string }) => ({
    certificate: file('given.pem', pair.certificatePem),
    key: file('given.key', pair.keyPem),
  });
  const refusal = async (files: { certificate: string; key: string }): Promise<string> => {
    const read = await readGivenCertificate(files, nowMs);
    return read.ok ? '' : inWords(read.reason);
  };

  test('is read with its names, also of RSA and with the chain behind it', async () => {
    openssl(
      ...['req', '-x509', '-newkey', 'rsa:2048', '-nodes', '-days', '30', '-subj', '/CN=hub.example.org'],
      ...['-addext', 'subjectAltName=DNS:hub.example.org,DNS:*.pool.example.org'],
      ...['-keyout', join(folder, 'given.key'), '-out', join(folder, 'given.pem')],
    );
    const chain = `${readFileSync(join(folder, 'given.pem'), 'utf8')}${(await keep()).certificatePem}`;
    const files = { certificate: file('given.pem', chain), key: join(folder, 'given.key') };
    const read = await readGivenCertificate(files, wallMs(Date.now() + dayMs));
    expect(read).toMatchObject({ ok: true, value: { names: ['hub.example.org', '*.pool.example.org'] } });
  });

  test('what cannot be used is refused in one sentence with what to do', async () => {
    const good = write(await made(['hub.example.org'], 60));
    expect(await refusal(good)).toBe('');
    expect(await refusal({ ...good, key: join(folder, 'none') })).toMatch(/no file .*none/);
    expect(await refusal({ ...good, certificate: good.key })).toMatch(/no certificate in/);
    expect(await refusal({ ...good, key: good.certificate })).toMatch(/no private key in/);
    const { keyPem } = await made(['hub.example.org'], 60);
    expect(await refusal({ ...good, key: file('other.key', keyPem) })).toMatch(/not for the key/);
    openssl(
      ...['pkcs8', '-topk8', '-in', good.key, '-out', join(folder, 'locked.key'), '-passout', 'pass:tide'],
    );
    expect(await refusal({ ...good, key: join(folder, 'locked.key') })).toMatch(/locked by a passphrase/);
    expect(await refusal(write(await made(['hub.example.org'], -2, nowMs - 90 * dayMs)))).toMatch(
      /ended on \d{4}-\d\d-\d\d\. Renew/,
    );
    expect(await refusal(write(await made(['hub.example.org'], 90, nowMs + 3 * dayMs)))).toMatch(
      /clock is right/,
    );
    const unnamed = await makeAuthorityCertificate('x', ['a.example'], nowMs, nowMs + dayMs);
    expect(await refusal(write(unnamed))).toMatch(/names no host/);
  });

  test.each([
    ['hub.example.org', 'hub.example.org', true],
    ['*.example.org', 'hub.example.org', true],
    ['*.example.org', 'example.org', false],
    ['*.example.org', 'a.hub.example.org', false],
    ['*.example.org', '.example.org', false],
  ])('%s names %s: %s', (pattern, name, named) => expect(isNamed(pattern, name)).toBe(named));

  test('is taken up again when its files change; a bad pair is told and the one before goes on', async () => {
    const files = write(await made(['hub.example.org'], 60));
    const clock = createFakeClock(1_000, nowMs);
    const lan = await prepareLanAccess({
      dataDirectory: folder,
      host: '127.0.0.1',
      port: 0,
      clock,
      log: testLog,
      certificate: { kind: 'given', files },
    });
    expect(lan.isOwnName('hub.example.org')).toBe(true);
    expect(lan.isOwnName('bank.example')).toBe(false);
    expect(lan.view().addresses[0]).toBe('https://hub.example.org:0');
    const server = createDeviceServer(lan, testLog, (_request, response) => response.end());
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    const address = server.address();
    const port = typeof address === 'object' && address !== null ? address.port : 0;
    const shown = () =>
      new Promise<string>((resolve, reject) => {
        const socket = connect({ host: '127.0.0.1', port, rejectUnauthorized: false }, () => {
          resolve(socket.getPeerCertificate().fingerprint256);
          socket.destroy();
        });
        socket.once('error', reject);
      });
    const notices = () => inWords(...lan.view().notices);
    try {
      const first = await shown();
      expect(first).toBe(lan.view().fingerprintSha256);
      // Half of the renewal: the certificate is there, its key not yet.
      const next = await made(['hub.example.org'], 90);
      file('given.pem', next.certificatePem);
      clock.advance(60_000);
      // The files are read beside the clock.
      await expect.poll(notices).toMatch(/not used.*not for the key.*goes on/);
      expect(await shown()).toBe(first);
      file('given.key', next.keyPem);
      clock.advance(60_000);
      await expect.poll(shown).toBe(new X509Certificate(next.certificatePem).fingerprint256);
      expect(notices()).toBe('');
      clock.advance(80 * dayMs);
      expect(notices()).toMatch(/ends in 9 days/);
    } finally {
      server.close();
      await lan.close();
    }
  });

  test('one that cannot be used keeps the hub from starting, with why', async () => {
    const files = { certificate: join(folder, 'none.pem'), key: join(folder, 'none.key') };
    await expect(
      prepareLanAccess({
        dataDirectory: folder,
        host: '127.0.0.1',
        port: 0,
        clock: createFakeClock(1_000, nowMs),
        log: testLog,
        certificate: { kind: 'given', files },
      }),
    ).rejects.toMatchObject({ code: 'config.badValue', message: expect.stringContaining('no file') });
  });
});

test('the hub’s own is renewed while the hub runs, between sessions only', async () => {
  const clock = createFakeClock(1_000, nowMs);
  let recording = true;
  const lan = await prepareLanAccess({
    dataDirectory: folder,
    host: '127.0.0.1',
    port: 0,
    clock,
    log: testLog,
    mayRenew: () => !recording,
  });
  const renewed: string[] = [];
  lan.onCredentials(({ fingerprintSha256 }) => renewed.push(fingerprintSha256));
  const first = lan.view().fingerprintSha256;
  const settle = async (): Promise<void> => {
    for (let turn = 0; turn < 500 && renewed.length === 0; turn += 1)
      await new Promise((resolve) => setImmediate(resolve));
  };
  clock.advance(340 * dayMs);
  await settle();
  expect(lan.view().fingerprintSha256).toBe(first);
  recording = false;
  clock.advance(6 * 3_600_000);
  await expect.poll(() => renewed.length).toBe(1);
  expect(lan.view().fingerprintSha256).toBe(renewed[0]);
  expect(inWords(...lan.view().notices)).toMatch(/certificate has changed/);
  await lan.close();
});
