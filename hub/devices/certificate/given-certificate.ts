// A certificate from elsewhere, in two files that somebody else writes and renews: read, checked, and looked at again.

import { createPrivateKey, type KeyObject, X509Certificate } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { type Said, said } from '../../../shared/said.ts';
import type { WallMs } from '../../../shared/units.ts';
import { failed, ok, type Result } from '../../../src/result.ts';
import { entriesOf } from './kept-pair.ts';

export interface CertificateFiles {
  /** PEM: the server's certificate first, then those that lead to its authority. */
  readonly certificate: string;
  /** PEM, not locked by a passphrase. */
  readonly key: string;
}

export interface GivenCertificate {
  readonly keyPem: string;
  readonly certificatePem: string;
  readonly fingerprintSha256: string;
  readonly endsWallAtMs: WallMs;
  /** DNS names it is good for; one may begin with "*.", which stands for one part of a name. */
  readonly names: readonly string[];
}

/** Reads both files and checks that a TLS server can use them now; else says in one sentence what to mend. */
export async function readGivenCertificate(
  files: CertificateFiles,
  wallNowMs: WallMs,
): Promise<Result<GivenCertificate, Said>> {
  const certificateText = await textOf(files.certificate);
  if (!certificateText.ok) return certificateText;
  const keyText = await textOf(files.key);
  if (!keyText.ok) return keyText;
  const certificatePem = certificateText.value;
  const certificate = certificateIn(certificatePem);
  if (certificate === undefined) return failed(said('lan.given.noCertificate', { path: files.certificate }));
  const key = keyIn(keyText.value);
  if (key === 'locked') return failed(said('lan.given.lockedKey', { path: files.key }));
  if (key === undefined) return failed(said('lan.given.noKey', { path: files.key }));
  if (!certificate.checkPrivateKey(key))
    return failed(said('lan.given.otherKey', { path: files.certificate, key: files.key }));
  const endsMs = Date.parse(certificate.validTo);
  const path = files.certificate;
  if (endsMs <= wallNowMs) return failed(said('lan.given.ended', { path, day: dayOf(endsMs) }));
  const beginsMs = Date.parse(certificate.validFrom);
  if (beginsMs > wallNowMs) return failed(said('lan.given.notBegun', { path, day: dayOf(beginsMs) }));
  const names = entriesOf(certificate, 'DNS').map((name) => name.toLowerCase());
  if (names.length === 0 && entriesOf(certificate, 'IP Address').length === 0)
    return failed(said('lan.given.noNames', { path }));
  return ok({
    keyPem: keyText.value,
    certificatePem,
    fingerprintSha256: certificate.fingerprint256,
    endsWallAtMs: endsMs as WallMs,
    names,
  });
}

/** Whether a certificate's name, perhaps with "*.", is `name` (RFC 6125 s6.4.3: the star is one whole first part). */
export function isNamed(pattern: string, name: string): boolean {
  if (!pattern.startsWith('*.')) return pattern === name;
  const rest = name.slice(name.indexOf('.') + 1);
  return name.includes('.') && !name.startsWith('.') && rest === pattern.slice(2);
}

/** "2031-05-17", of the time at Greenwich, as certificates have it. */
const dayOf = (wallAtMs: number): string => new Date(wallAtMs).toISOString().slice(0, 10);

async function textOf(path: string): Promise<Result<string, Said>> {
  try {
    return ok(await readFile(path, 'utf8'));
  } catch (error) {
    const { code = 'unknown' } = error as NodeJS.ErrnoException;
    if (code === 'ENOENT') return failed(said('lan.given.noFile', { path }));
    if (code === 'EACCES' || code === 'EPERM') return failed(said('lan.given.mayNotRead', { path }));
    return failed(said('lan.given.unreadable', { path, reason: code }));
  }
}

function certificateIn(text: string): X509Certificate | undefined {
  try {
    return new X509Certificate(text);
  } catch {
    // No certificate is in it, which is said.
    return undefined;
  }
}

function keyIn(text: string): KeyObject | 'locked' | undefined {
  if (/ENCRYPTED/.test(text)) return 'locked';
  try {
    return createPrivateKey(text);
  } catch {
    // No key is in it, which is said.
    return undefined;
  }
}
