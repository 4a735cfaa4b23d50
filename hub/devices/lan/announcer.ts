// Announces the hub on the local network by multicast DNS (RFC 6762, RFC 6763), so that a name can be typed.
// Failing to announce is said, and the hub goes on: addresses and QR codes work without it.

import { type Said, said } from '../../../shared/said.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import type { HubLog } from '../../base/log.ts';

/** Both of our own choosing: http would make every browser's service list offer the page without TLS. */
export const announcedHostName = 'slackwater';
const serviceType = 'slackwater';

/** What is needed of the multicast library. */
export interface Responder {
  createService(options: {
    name: string;
    type: string;
    port: number;
    hostname: string;
    disabledIpv6: boolean;
    txt: Record<string, string>;
  }): {
    on(event: 'hostname-change', listener: (hostname: string) => void): unknown;
    advertise(): Promise<void>;
  };
  shutdown(): Promise<void>;
}

export interface Announcement {
  /** The name in use without ".local", or null while there is none. Another hub on the network may have the first choice. */
  readonly hostName: string | null;
  /** Why there is no name, with what to do; null when all is well. */
  readonly notice: Said | null;
  stop(): Promise<void>;
}

async function multicastResponder(): Promise<Responder> {
  const { getResponder } = await import('@homebridge/ciao');
  return getResponder();
}

/** Begins announcing. Never throws: what fails is in `notice`. */
export function announceHub(
  port: number,
  log: HubLog,
  makeResponder: () => Promise<Responder> = multicastResponder,
): Announcement {
  let responder: Responder | undefined;
  let hostName: string | null = null;
  let notice: Said | null = null;

  async function begin(): Promise<void> {
    responder = await makeResponder();
    const service = responder.createService({
      name: 'Slackwater',
      type: serviceType,
      port,
      hostname: announcedHostName,
      disabledIpv6: false,
      txt: { path: '/join' },
    });
    let chosen = announcedHostName;
    service.on('hostname-change', (name) => {
      chosen = name.replace(/\.local\.?$/, '');
      if (hostName !== null) hostName = chosen;
    });
    await service.advertise();
    hostName = chosen;
  }
  const begun = begin().catch((error: unknown) => {
    const reason = error instanceof Error ? error.message : String(error);
    notice = said('lan.nameNotAnnounced', { name: `${announcedHostName}.local`, reason });
    log.warn(sayInEnglish(notice));
  });

  return {
    get hostName() {
      return hostName;
    },
    get notice() {
      return notice;
    },
    async stop() {
      await begun;
      try {
        await responder?.shutdown();
      } catch (error) {
        log.info(`the end of the announcement failed: ${error instanceof Error ? error.message : error}`);
      }
    },
  };
}
