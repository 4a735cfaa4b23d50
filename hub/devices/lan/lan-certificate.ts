// The hub's own certificate: made once, kept privately, renewed when it nears its end or no longer names this machine.

import { createPublicKey, type X509Certificate } from 'node:crypto';
import { join } from 'node:path';
import type { WallMs } from '../../../shared/units.ts';
import type { Authority } from '../certificate/authority.ts';
import { entriesOf, keepPair, readPair } from '../certificate/kept-pair.ts';
import { makeServerCertificate } from '../certificate/make-certificate.ts';
import type { LanNames } from './lan-names.ts';

const dayMs = 24 * 3_600_000;
/** Apple's platforms refuse server certificates of more than 825 days (support.apple.com/103769, from memory). */
const lifetimeMs = 365 * dayMs;
const renewBeforeEndMs = 30 * dayMs;
/** Addresses of earlier networks stay in it, so that going between home and club does not change the fingerprint. */
const mostAddresses = 16;

export interface LanCertificate {
  /** Key and certificate as PEM, for a TLS server. */
  readonly keyPem: string;
  readonly certificatePem: string;
  /** SHA-256, pairs of hex digits with colons, as browsers show it. */
  readonly fingerprintSha256: string;
  readonly endsWallAtMs: WallMs;
  /** It was made now: devices that trusted an earlier one will ask again. */
  readonly isNew: boolean;
  /** It took the place of one that devices may have accepted, and they don't trust its signer. */
  readonly warnsAgain: boolean;
}

/**
 * The certificate kept in the data directory, made or renewed where needed; signed by itself, or by the `authority`.
 * Throws HubError `data.unwritable` when a new one cannot be kept.
 */
export async function keepLanCertificate(
  dataDirectory: string,
  wanted: LanNames,
  wallNowMs: WallMs,
  authority?: Authority,
): Promise<LanCertificate> {
  const path = join(dataDirectory, 'lan-certificate.pem');
  const kept = readPair(path);
  const asked = authority?.permitted(wanted) ?? wanted;
  if (
    kept !== undefined &&
    isUsable(kept.certificate, asked, wallNowMs) &&
    isSignedBy(kept.certificate, authority)
  )
    return view(kept.keyPem, kept.certificatePem, kept.certificate, { isNew: false, warnsAgain: false });
  const earlier = kept === undefined ? [] : addressesOf(kept.certificate);
  const named = { names: asked.names, addresses: [...new Set([...asked.addresses, ...earlier])] };
  const { names, addresses } = authority?.permitted(named) ?? named;
  const made = await makeServerCertificate(
    {
      names: [...names, ...alwaysNames],
      addresses: [...addresses.slice(0, mostAddresses), ...alwaysAddresses],
    },
    wallNowMs,
    Math.min(wallNowMs + lifetimeMs, authority?.endsWallAtMs ?? Number.POSITIVE_INFINITY),
    authority,
  );
  const pair = keepPair(path, made);
  return view(pair.keyPem, pair.certificatePem, pair.certificate, {
    isNew: true,
    warnsAgain: kept !== undefined && (authority === undefined || !isSignedBy(kept.certificate, authority)),
  });
}

function view(
  keyPem: string,
  certificatePem: string,
  certificate: X509Certificate,
  made: Pick<LanCertificate, 'isNew' | 'warnsAgain'>,
): LanCertificate {
  return {
    keyPem,
    certificatePem,
    fingerprintSha256: certificate.fingerprint256,
    endsWallAtMs: Date.parse(certificate.validTo) as WallMs,
    ...made,
  };
}

function isUsable(certificate: X509Certificate, wanted: LanNames, wallNowMs: WallMs): boolean {
  const ends = Date.parse(certificate.validTo);
  const begins = Date.parse(certificate.validFrom);
  if (!(begins <= wallNowMs) || !(ends - renewBeforeEndMs > wallNowMs)) return false;
  const names = new Set(namesOf(certificate));
  if (names.size !== wanted.names.length || !wanted.names.every((name) => names.has(name))) return false;
  const addresses = new Set(addressesOf(certificate));
  return wanted.addresses.slice(0, mostAddresses).every((address) => addresses.has(address));
}

const isSignedBy = (certificate: X509Certificate, authority: Authority | undefined): boolean =>
  authority === undefined
    ? certificate.verify(certificate.publicKey)
    : certificate.verify(createPublicKey(authority.certificatePem));

// The loopback entries are always there and say nothing about the network.
const alwaysNames = ['localhost'];
const alwaysAddresses = ['127.0.0.1'];

const namesOf = (certificate: X509Certificate): string[] =>
  entriesOf(certificate, 'DNS').filter((name) => !alwaysNames.includes(name));
const addressesOf = (certificate: X509Certificate): string[] =>
  entriesOf(certificate, 'IP Address').filter((address) => !alwaysAddresses.includes(address));
