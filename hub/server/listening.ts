// Opening the hub's doors: its own machine's, and with TLS other devices'. A door that can't be opened says why.

import type { IncomingMessage, ServerResponse } from 'node:http';
import { createServer as createTlsServer, type Server as TlsServer } from 'node:https';
import type { AddressInfo } from 'node:net';
import { said } from '../../shared/said.ts';
import { HubError } from '../base/hub-error.ts';
import type { HubLog } from '../base/log.ts';
import type { LanAccess } from '../devices/lan/lan-access.ts';

/** A hundred pages with a few connections each. */
const mostLanConnections = 512;

export const portOf = (address: AddressInfo | string | null): number | null =>
  typeof address === 'object' && address !== null ? address.port : null;

/** All interfaces of both kinds, or of IPv4 alone on a machine without IPv6. */
export async function listenForDevices(server: TlsServer, lan: LanAccess): Promise<void> {
  const listen = (host: string) =>
    new Promise<void>((resolve, reject) => {
      server.once('error', reject);
      server.listen({ host, port: lan.port }, () => {
        server.off('error', reject);
        resolve();
      });
    });
  try {
    await listen(lan.host);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (lan.host !== '::' || (code !== 'EAFNOSUPPORT' && code !== 'EADDRNOTAVAIL')) throw error;
    await listen('0.0.0.0');
  }
}

export function listeningError(
  error: unknown,
  host: string,
  port: number,
  portOption: string,
  hostOption: string,
): HubError {
  const { code } = error as NodeJS.ErrnoException;
  if (code === 'EADDRINUSE')
    return new HubError('server.portBusy', said('server.portBusy', { port, portOption }), error);
  if (code === 'EACCES')
    return new HubError('server.portForbidden', said('server.portForbidden', { port, portOption }), error);
  if (code === 'EADDRNOTAVAIL' || code === 'ENOTFOUND')
    return new HubError('server.failed', said('server.noSuchHost', { host, hostOption }), error);
  return new HubError('server.failed', said('server.cannotListen', { host, port }), error);
}

/** The server for other devices, not listening yet. */
export function createDeviceServer(
  lan: LanAccess,
  log: HubLog,
  answer: (request: IncomingMessage, response: ServerResponse) => void,
): TlsServer {
  const server = createTlsServer(
    // Someone on the network who opens connections and says nothing must not use up the hub's.
    { key: lan.keyPem, cert: lan.certificatePem, handshakeTimeout: 10_000 },
    answer,
  );
  server.maxConnections = mostLanConnections;
  server.on('error', (error) => log.warn(`the server for other devices: ${error.message}`));
  return server;
}

/** Resolves when every connection is cut. */
export async function closeDeviceServer(server: TlsServer): Promise<void> {
  const closed = new Promise<void>((resolve) => server.close(() => resolve()));
  server.closeAllConnections();
  await closed;
}
