// Makes certificates (RFC 5280): the hub's own, signed by itself or by its authority, and the authority's.

import { randomBytes, webcrypto } from 'node:crypto';
import type { WallMs } from '../../../shared/units.ts';
import { nameConstraints, nameConstraintsOid } from './name-constraints.ts';

const dayMs = 24 * 3_600_000;
/** A phone whose clock is behind must not find the certificate not yet valid. */
const backdatedMs = dayMs;
const algorithm = { name: 'ECDSA', namedCurve: 'P-256', hash: 'SHA-256' } as const;

export interface MadeCertificate {
  readonly keyPem: string;
  readonly certificatePem: string;
}

export interface CertificateNames {
  readonly names: readonly string[];
  readonly addresses: readonly string[];
}

/** A certificate of a TLS server, good from yesterday until `endsWallAtMs`; signed by itself without a `signer`. */
export async function makeServerCertificate(
  { names, addresses }: CertificateNames,
  wallNowMs: WallMs,
  endsWallAtMs: number,
  signer?: MadeCertificate,
): Promise<MadeCertificate> {
  const x509 = await library();
  const keys = await webcrypto.subtle.generateKey(algorithm, true, ['sign', 'verify']);
  const authority = signer === undefined ? undefined : new x509.X509Certificate(signer.certificatePem);
  const extensions = [
    new x509.BasicConstraintsExtension(false, undefined, true),
    new x509.KeyUsagesExtension(x509.KeyUsageFlags.digitalSignature, true),
    new x509.ExtendedKeyUsageExtension([x509.ExtendedKeyUsage.serverAuth]),
    new x509.SubjectAlternativeNameExtension([
      ...names.map((value) => ({ type: 'dns' as const, value })),
      ...addresses.map((value) => ({ type: 'ip' as const, value })),
    ]),
    ...(authority === undefined
      ? []
      : [await x509.AuthorityKeyIdentifierExtension.create(authority.publicKey, false, webcrypto)]),
  ];
  const shared = {
    serialNumber: serialNumber(),
    notBefore: new Date(wallNowMs - backdatedMs),
    notAfter: new Date(endsWallAtMs),
    signingAlgorithm: algorithm,
    extensions,
  };
  const certificate =
    signer === undefined || authority === undefined
      ? await x509.X509CertificateGenerator.createSelfSigned(
          { ...shared, name: serverName, keys: keys },
          webcrypto,
        )
      : await x509.X509CertificateGenerator.create(
          {
            ...shared,
            subject: serverName,
            issuer: authority.subject,
            publicKey: keys.publicKey,
            signingKey: await readKey(signer.keyPem),
          },
          webcrypto,
        );
  return { keyPem: await pemOf(keys.privateKey), certificatePem: certificate.toString('pem') };
}

/** An authority that may vouch for servers of these names and of private addresses, and for no other authority. */
export async function makeAuthorityCertificate(
  commonName: string,
  names: readonly string[],
  wallNowMs: WallMs,
  endsWallAtMs: number,
): Promise<MadeCertificate> {
  const x509 = await library();
  const keys = await webcrypto.subtle.generateKey(algorithm, true, ['sign', 'verify']);
  const certificate = await x509.X509CertificateGenerator.createSelfSigned(
    {
      serialNumber: serialNumber(),
      name: [{ CN: [commonName] }],
      keys: keys,
      notBefore: new Date(wallNowMs - backdatedMs),
      notAfter: new Date(endsWallAtMs),
      signingAlgorithm: algorithm,
      extensions: [
        new x509.BasicConstraintsExtension(true, 0, true),
        new x509.KeyUsagesExtension(x509.KeyUsageFlags.keyCertSign, true),
        await x509.SubjectKeyIdentifierExtension.create(keys.publicKey, false, webcrypto),
        new x509.Extension(nameConstraintsOid, true, nameConstraints(names)),
      ],
    },
    webcrypto,
  );
  return { keyPem: await pemOf(keys.privateKey), certificatePem: certificate.toString('pem') };
}

const serverName = 'CN=Slackwater hub';

// Loaded only with --lan: most sessions never need it.
const library = () => import('@peculiar/x509');

/** RFC 5280 s4.1.2.2: positive, at most 20 octets. */
const serialNumber = (): string => `0${randomBytes(16).toString('hex').slice(1)}`;

/** RFC 7468 s10: PKCS #8, not locked. */
const pemLabel = 'PRIVATE KEY';

type SubtleKey = webcrypto.CryptoKey;

async function pemOf(key: SubtleKey): Promise<string> {
  const bytes = Buffer.from(await webcrypto.subtle.exportKey('pkcs8', key));
  const lines = bytes.toString('base64').match(/.{1,64}/g) ?? [];
  const mark = (which: 'BEGIN' | 'END') => `-----${which} ${pemLabel}-----`;
  return [mark('BEGIN'), ...lines, mark('END')].join('\n');
}

async function readKey(keyPem: string): Promise<SubtleKey> {
  const bytes = Buffer.from(keyPem.replaceAll(/-----[^-]+-----|\s/g, ''), 'base64');
  return webcrypto.subtle.importKey('pkcs8', bytes, algorithm, false, ['sign']);
}
