// What `--lan` adds: the certificate, the addresses to join at, and the announced name, as one thing the server opens.

import { isIP } from 'node:net';
import type { LanView } from '../../../shared/http.ts';
import { said } from '../../../shared/said.ts';
import type { HubLog } from '../../base/log.ts';
import { isLoopback } from '../../base/loopback.ts';
import type { Clock } from '../../base/ports/clock.ts';
import { comparisonCode } from '../certificate/comparison-code.ts';
import { isNamed } from '../certificate/given-certificate.ts';
import { type Announcement, announcedHostName, announceHub } from './announcer.ts';
import { type CertificateChoice, type Credentials, openCredentials } from './credentials.ts';
import { lanNames } from './lan-names.ts';

export interface LanAccess {
  /** What the server shows now. */
  readonly credentials: Credentials;
  /** The server has to show another certificate from now on; who is connected stays. */
  onCredentials(listener: (credentials: Credentials) => void): void;
  /** Address to bind: every interface unless one was asked for. */
  readonly host: string;
  readonly port: number;
  isOwnName(name: string): boolean;
  /** The server listens on `port` now: the name is announced from here on. */
  opened(port: number): void;
  view(): LanView;
  /** The page's join address with a code in the fragment, which browsers do not send to any server. */
  joinAddress(code: string): string;
  close(): Promise<void>;
}

export interface LanOptions {
  readonly dataDirectory: string;
  readonly host: string;
  readonly port: number;
  readonly clock: Clock;
  readonly log: HubLog;
  /** The hub's own by itself when left out. */
  readonly certificate?: CertificateChoice;
  /** Nothing is renewed while it says no: a session is recorded. */
  readonly mayRenew?: () => boolean;
}

/** Prepares the certificate. Throws HubError when it cannot be kept, or a given one cannot be used. */
export async function prepareLanAccess(options: LanOptions): Promise<LanAccess> {
  const { clock, log, host, dataDirectory, mayRenew = () => true } = options;
  const namesAtStart = lanNames(announcedHostName);
  const credentials = await openCredentials({
    choice: options.certificate ?? { kind: 'ownByItself' },
    dataDirectory,
    names: namesAtStart,
    clock,
    log,
    mayRenew,
  });
  let announcement: Announcement | undefined;
  let port = options.port;

  function addresses(): string[] {
    // Asked anew each time: a laptop changes networks while the hub runs.
    const now = lanNames(announcement?.hostName ?? announcedHostName);
    const bound = isIP(host) !== 0 && host !== '0.0.0.0' && host !== '::' ? [host] : now.addresses;
    const announced = announcement?.hostName ? [`${announcement.hostName}.local`] : [];
    const shown = [
      // Where a certificate was given, the browser takes it at its names alone.
      ...credentials.now.givenNames.filter((name) => !name.startsWith('*')),
      ...bound.map((address) => (isIP(address) === 6 ? `[${address}]` : address)),
      ...announced,
    ];
    return (shown.length === 0 ? ['localhost'] : shown).map((name) => `https://${name}:${port}`);
  }

  return {
    get credentials() {
      return credentials.now;
    },
    onCredentials: (listener) => credentials.onChanged(listener),
    host,
    port: options.port,
    isOwnName: (name) =>
      namesAtStart.names.includes(name) ||
      credentials.now.givenNames.some((pattern) => isNamed(pattern, name)) ||
      (!!announcement?.hostName && name === `${announcement.hostName}.local`),
    opened(openedPort) {
      port = openedPort;
      // Nobody else could reach a loopback address, so there is nothing to announce.
      if (!isLoopback(host)) announcement = announceHub(openedPort, log);
    },
    view() {
      const notices = [
        ...credentials.notices(),
        announcement?.notice,
        !isLoopback(host) && lanNames(announcedHostName).addresses.length === 0
          ? said('lan.noNetwork')
          : null,
      ].filter((notice) => notice !== null && notice !== undefined);
      const { fingerprintSha256, endsWallAtMs, signedBy, authority } = credentials.now;
      return {
        addresses: addresses(),
        fingerprintSha256,
        comparisonCode: comparisonCode(fingerprintSha256),
        signedBy,
        authority:
          authority === undefined
            ? null
            : {
                fingerprintSha256: authority.fingerprintSha256,
                comparisonCode: comparisonCode(authority.fingerprintSha256),
                endsWallAtMs: authority.endsWallAtMs,
              },
        certificateEndsWallAtMs: endsWallAtMs,
        notices,
      };
    },
    joinAddress: (code) => `${addresses()[0]}/join#${code}`,
    async close() {
      credentials.close();
      await announcement?.stop();
    },
  };
}
