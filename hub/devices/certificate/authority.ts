// The hub's own authority: a certificate that a device can be made to trust once, and that signs the hub's certificates from
// then on, so that its browsers warn no more. Made when the settings ask for it, kept privately.

import type { X509Certificate } from 'node:crypto';
import { hostname } from 'node:os';
import { join } from 'node:path';
import type { WallMs } from '../../../shared/units.ts';
import { keepPair, readPair } from './kept-pair.ts';
import { type CertificateNames, type MadeCertificate, makeAuthorityCertificate } from './make-certificate.ts';
import { isPermittedAddress, isPermittedName } from './name-constraints.ts';

const dayMs = 24 * 3_600_000;
/** Devices have to be made to trust a new one by hand, so it is long. Our choice. */
const lifetimeMs = 3_650 * dayMs;
/** A server's certificate of a year must fit into it. */
const renewBeforeEndMs = 400 * dayMs;

export interface Authority extends MadeCertificate {
  readonly fingerprintSha256: string;
  readonly endsWallAtMs: WallMs;
  /** It took the place of an earlier one, which devices trust in vain now. */
  readonly replaced: boolean;
  /** Of these, what it may vouch for. */
  permitted(names: CertificateNames): CertificateNames;
}

/** The authority kept in the data directory, made or renewed where needed. Throws HubError `data.unwritable`. */
export async function keepAuthority(
  dataDirectory: string,
  names: readonly string[],
  wallNowMs: WallMs,
): Promise<Authority> {
  const path = join(dataDirectory, 'lan-authority.pem');
  const kept = readPair(path);
  if (kept !== undefined && isUsable(kept.certificate, wallNowMs)) return view(kept, kept.certificate, false);
  const made = await makeAuthorityCertificate(
    `Slackwater (${hostname()})`,
    names,
    wallNowMs,
    wallNowMs + lifetimeMs,
  );
  const pair = keepPair(path, made);
  return view(pair, pair.certificate, kept !== undefined);
}

function isUsable(certificate: X509Certificate, wallNowMs: WallMs): boolean {
  return (
    certificate.ca &&
    Date.parse(certificate.validFrom) <= wallNowMs &&
    Date.parse(certificate.validTo) - renewBeforeEndMs > wallNowMs
  );
}

function view(pair: MadeCertificate, certificate: X509Certificate, replaced: boolean): Authority {
  return {
    keyPem: pair.keyPem,
    certificatePem: pair.certificatePem,
    fingerprintSha256: certificate.fingerprint256,
    endsWallAtMs: Date.parse(certificate.validTo) as WallMs,
    replaced,
    permitted: ({ names, addresses }) => ({
      names: names.filter((name) => isPermittedName(certificate.raw, name)),
      addresses: addresses.filter(isPermittedAddress),
    }),
  };
}
