// Which certificate the hub shows to other devices: its own by itself, its own by its authority, or a given one. Keeps it good
// while the hub runs: its own are renewed between sessions, given files are looked at for newer ones.

import { type Said, said } from '../../../shared/said.ts';
import type { WallMs } from '../../../shared/units.ts';
import { HubError } from '../../base/hub-error.ts';
import type { HubLog } from '../../base/log.ts';
import type { Clock } from '../../base/ports/clock.ts';
import { type Authority, keepAuthority } from '../certificate/authority.ts';
import {
  type CertificateFiles,
  type GivenCertificate,
  readGivenCertificate,
} from '../certificate/given-certificate.ts';
import { keepLanCertificate } from './lan-certificate.ts';
import type { LanNames } from './lan-names.ts';

export type CertificateChoice =
  | { readonly kind: 'ownByItself' }
  | { readonly kind: 'ownByAuthority' }
  | { readonly kind: 'given'; readonly files: CertificateFiles };

export interface Credentials {
  readonly keyPem: string;
  readonly certificatePem: string;
  /** SHA-256, pairs of hex digits with colons. */
  readonly fingerprintSha256: string;
  readonly endsWallAtMs: WallMs;
  readonly signedBy: 'itself' | 'hubAuthority' | 'given';
  readonly authority?: Authority;
  /** DNS names of a given certificate; none of the hub's own. */
  readonly givenNames: readonly string[];
}

export interface OpenCredentials {
  readonly now: Credentials;
  onChanged(listener: (credentials: Credentials) => void): void;
  /** What a person should know of them. */
  notices(): readonly Said[];
  close(): void;
}

export interface CredentialParts {
  readonly choice: CertificateChoice;
  readonly dataDirectory: string;
  readonly names: LanNames;
  readonly clock: Clock;
  readonly log: HubLog;
  readonly mayRenew: () => boolean;
}

/** Own certificates are good for a month more when they are renewed; clients that renew given ones run a few times a day. */
const lookAtOwnMs = 6 * 3_600_000;
const lookAtGivenMs = 60_000;
/** From then on it is told: those who renew by the clock do it a month before the end. Our choice. */
const tellBeforeEndMs = 14 * 24 * 3_600_000;

/** Throws HubError: `data.unwritable`, or `config.badValue` where a given one cannot be used. */
export async function openCredentials(parts: CredentialParts): Promise<OpenCredentials> {
  return parts.choice.kind === 'given'
    ? openGiven(parts, parts.choice.files)
    : openOwn(parts, parts.choice.kind === 'ownByAuthority');
}

async function openOwn(parts: CredentialParts, byAuthority: boolean): Promise<OpenCredentials> {
  const { clock, log, dataDirectory, names, mayRenew } = parts;
  let didChange = false;
  let authorityWasReplaced = false;
  async function keep(): Promise<Credentials> {
    const wallNowMs = clock.wallNowMs();
    const authority = byAuthority
      ? await keepAuthority(dataDirectory, [...names.names, 'localhost'], wallNowMs)
      : undefined;
    const {
      warnsAgain,
      isNew: _isNew,
      ...certificate
    } = await keepLanCertificate(dataDirectory, names, wallNowMs, authority);
    didChange ||= warnsAgain;
    authorityWasReplaced ||= authority?.replaced === true;
    return {
      ...certificate,
      signedBy: byAuthority ? 'hubAuthority' : 'itself',
      ...(authority !== undefined && { authority }),
      givenNames: [],
    };
  }
  const changing = new Changing(await keep(), log);
  const stop = clock.every(lookAtOwnMs, () => {
    if (mayRenew()) changing.change(keep);
  });
  return changing.opened(stop, ({ authority }) => [
    ...(authorityWasReplaced ? [said('lan.authorityChanged')] : []),
    ...(didChange ? [said('lan.certificateChanged')] : []),
    ...notVouchedFor(authority, names),
  ]);
}

/** At which names and addresses browsers warn all the same. */
function notVouchedFor(authority: Authority | undefined, { names, addresses }: LanNames): Said[] {
  if (authority === undefined) return [];
  const permitted = authority.permitted({ names, addresses });
  return [
    ...names
      .filter((name) => !permitted.names.includes(name))
      .map((name) => said('lan.notVouchedFor', { name })),
    ...addresses
      .filter((address) => !permitted.addresses.includes(address))
      .map((address) => said('lan.notVouchedForAddress', { address })),
  ];
}

async function openGiven(parts: CredentialParts, files: CertificateFiles): Promise<OpenCredentials> {
  const { clock, log } = parts;
  const read = () => readGivenCertificate(files, clock.wallNowMs());
  const first = await read();
  if (!first.ok) throw new HubError('config.badValue', first.reason);
  let problem: Said | null = null;
  const changing = new Changing(shownOf(first.value), log);
  const stop = clock.every(lookAtGivenMs, () =>
    changing.change(async (before) => {
      const again = await read();
      // The one that was read before goes on as long as it is good, and longer where there is no other.
      problem = again.ok ? null : again.reason;
      return again.ok && again.value.fingerprintSha256 !== before.fingerprintSha256
        ? shownOf(again.value)
        : before;
    }),
  );
  return changing.opened(stop, ({ endsWallAtMs }) => {
    const leftMs = endsWallAtMs - clock.wallNowMs();
    const days = Math.max(0, Math.floor(leftMs / (24 * 3_600_000)));
    if (problem !== null) return [said('lan.given.notTaken', { problem, days })];
    return leftMs < tellBeforeEndMs ? [said('lan.given.ends', { path: files.certificate, days })] : [];
  });
}

const shownOf = ({ names, ...certificate }: GivenCertificate): Credentials => ({
  ...certificate,
  signedBy: 'given',
  givenNames: names,
});

/** What is shown now, and who hears when it is another. */
class Changing {
  readonly #log: HubLog;
  #now: Credentials;
  #isChanging = false;
  readonly #listeners: ((credentials: Credentials) => void)[] = [];

  constructor(first: Credentials, log: HubLog) {
    this.#now = first;
    this.#log = log;
  }

  /** One at a time: a disk that does not answer is not asked again. */
  change(next: (before: Credentials) => Promise<Credentials>): void {
    if (this.#isChanging) return;
    this.#isChanging = true;
    next(this.#now)
      .then((found) => {
        if (found.fingerprintSha256 === this.#now.fingerprintSha256) return;
        this.#now = found;
        for (const listener of this.#listeners) listener(found);
      })
      .catch((error: unknown) => this.#log.error('certificate unchanged', error))
      .finally(() => {
        this.#isChanging = false;
      });
  }

  opened(stop: () => void, noticesOf: (now: Credentials) => readonly Said[]): OpenCredentials {
    const now = (): Credentials => this.#now;
    return {
      get now() {
        return now();
      },
      onChanged: (listener) => void this.#listeners.push(listener),
      notices: () => noticesOf(this.#now),
      close: stop,
    };
  }
}
