// Opening the hub's doors: its own machine's, and with TLS other devices'. A door that can't be opened says why.

import type { IncomingMessage, ServerResponse } from 'node:http';
import { createServer as createTlsServer, type Server as TlsServer } from 'node:https';
import type { AddressInfo } from 'node:net';
import { said } from '../../shared/said.ts';
import { HubError } from '../base/hub-error.ts';
import type { HubLog } from '../base/log.ts';
import type { LanAccess } from '../devices/lan/lan-access.ts';
import { deviceConnections, limitConnections } from './connection-quota.ts';

/**
 * Node's own limits (nodejs.org/docs/latest-v20.x/api/http.html), for both doors: what a request's head may take, and the
 * whole of it with the longest import over a slow network. How soon other bodies have to be there stands in http-server.ts.
 */
export const requestLimits = {
  headersTimeout: 10_000,
  requestTimeout: 30 * 60_000,
  connectionsCheckingInterval: 2_000,
  keepAliveTimeout: 20_000,
  /** A page's requests have a few hundred bytes of head. */
  maxHeaderSize: 8 * 1024,
} as const;

export const portOf = (address: AddressInfo | string | null): number | null =>
  typeof address === 'object' && address !== null ? address.port : null;

/**
 * What browsers of the last ten years agree on: TLS 1.3, and of 1.2 only key agreement with forward secrecy and
 * authenticated encryption (RFC 9325 s4.2). The hub's own certificate is of P-256; a given one may be of RSA.
 */
const modernTls = {
  minVersion: 'TLSv1.2',
  ciphers: [
    'TLS_AES_128_GCM_SHA256',
    'TLS_AES_256_GCM_SHA384',
    'TLS_CHACHA20_POLY1305_SHA256',
    'ECDHE-ECDSA-AES128-GCM-SHA256',
    'ECDHE-ECDSA-AES256-GCM-SHA384',
    'ECDHE-ECDSA-CHACHA20-POLY1305',
    'ECDHE-RSA-AES128-GCM-SHA256',
    'ECDHE-RSA-AES256-GCM-SHA384',
    'ECDHE-RSA-CHACHA20-POLY1305',
  ].join(':'),
  ecdhCurve: 'X25519:P-256:P-384',
} as const;

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

const secureContextOf = ({ keyPem, certificatePem }: LanAccess['credentials']) => ({
  ...modernTls,
  key: keyPem,
  cert: certificatePem,
});

/** The server for other devices, not listening yet. */
export function createDeviceServer(
  lan: LanAccess,
  log: HubLog,
  answer: (request: IncomingMessage, response: ServerResponse) => void,
): TlsServer {
  const server = createTlsServer(
    // Someone on the network who opens connections and says nothing must not use up the hub's.
    { ...requestLimits, ...secureContextOf(lan.credentials), handshakeTimeout: 5_000 },
    answer,
  );
  lan.onCredentials((credentials) => server.setSecureContext(secureContextOf(credentials)));
  limitConnections(server, deviceConnections, () => performance.now());
  server.on('error', (error) => log.warn(`the server for other devices: ${error.message}`));
  return server;
}

/** Resolves when every connection is cut. */
export async function closeDeviceServer(server: TlsServer): Promise<void> {
  const closed = new Promise<void>((resolve) => server.close(() => resolve()));
  server.closeAllConnections();
  await closed;
}
