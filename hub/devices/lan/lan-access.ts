// What `--lan` adds: the certificate, the addresses to join at, and the announced name, as one thing the server opens.

import { isIP } from 'node:net';
import type { LanView } from '../../../shared/http.ts';
import { said } from '../../../shared/said.ts';
import type { HubLog } from '../../base/log.ts';
import { isLoopback } from '../../base/loopback.ts';
import type { Clock } from '../../base/ports/clock.ts';
import { type Announcement, announcedHostName, announceHub } from './announcer.ts';
import { keepLanCertificate } from './lan-certificate.ts';
import { lanNames } from './lan-names.ts';

export interface LanAccess {
  readonly keyPem: string;
  readonly certificatePem: string;
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
}

/** Prepares the certificate. Throws HubError when it cannot be kept. */
export async function prepareLanAccess(options: LanOptions): Promise<LanAccess> {
  const { clock, log, host } = options;
  const namesAtStart = lanNames(announcedHostName);
  const certificate = await keepLanCertificate(options.dataDirectory, namesAtStart, clock.wallNowMs());
  let announcement: Announcement | undefined;
  let port = options.port;

  function addresses(): string[] {
    // Asked anew each time: a laptop changes networks while the hub runs.
    const now = lanNames(announcement?.hostName ?? announcedHostName);
    const bound = isIP(host) !== 0 && host !== '0.0.0.0' && host !== '::' ? [host] : now.addresses;
    const announced = announcement?.hostName ? [`${announcement.hostName}.local`] : [];
    const shown = [...bound.map((address) => (isIP(address) === 6 ? `[${address}]` : address)), ...announced];
    return (shown.length === 0 ? ['localhost'] : shown).map((name) => `https://${name}:${port}`);
  }

  return {
    keyPem: certificate.keyPem,
    certificatePem: certificate.certificatePem,
    host,
    port: options.port,
    isOwnName: (name) =>
      namesAtStart.names.includes(name) ||
      (!!announcement?.hostName && name === `${announcement.hostName}.local`),
    opened(openedPort) {
      port = openedPort;
      // Nobody else could reach a loopback address, so there is nothing to announce.
      if (!isLoopback(host)) announcement = announceHub(openedPort, log);
    },
    view() {
      const notices = [
        announcement?.notice,
        !isLoopback(host) && lanNames(announcedHostName).addresses.length === 0
          ? said('lan.noNetwork')
          : null,
      ].filter((notice) => notice !== null && notice !== undefined);
      return {
        addresses: addresses(),
        fingerprintSha256: certificate.fingerprintSha256,
        certificateEndsWallAtMs: certificate.endsWallAtMs,
        notices,
      };
    },
    joinAddress: (code) => `${addresses()[0]}/join#${code}`,
    async close() {
      await announcement?.stop();
    },
  };
}
