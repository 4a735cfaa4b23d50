// A connection to the message server, for hubs and for a school: its library is loaded here and nowhere else, and only by
// those who use it.

import { readFileSync } from 'node:fs';
import { isIP } from 'node:net';
import { checkServerIdentity, type PeerCertificate } from 'node:tls';
import type { NatsConnection } from '@nats-io/transport-node';
import { said } from '../../../shared/said.ts';
import { HubError, told } from '../../base/hub-error.ts';
import { isLoopback } from '../../base/loopback.ts';

export interface NatsAccess {
  /** nats:// on the same machine, tls:// beyond it; several with commas. */
  readonly url: string;
  readonly user?: string | undefined;
  readonly password?: string | undefined;
  /** A file with the certificate that the server's is signed by; the system's own when left out. */
  readonly authorityFile?: string | undefined;
}

/** Readings of people go over no network in clear. Throws a HubError that says what to do. */
export function checkAccess({ url }: NatsAccess): void {
  for (const each of url.split(',')) {
    let address: URL;
    try {
      address = new URL(each.trim());
    } catch {
      throw new HubError('config.badValue', said('school.badAddress', { address: each.trim() }));
    }
    if (!['nats:', 'tls:'].includes(address.protocol))
      throw new HubError('config.badValue', said('school.badAddress', { address: each.trim() }));
    if (address.protocol === 'nats:' && !isLoopback(address.hostname.replace(/^\[|\]$/g, '')))
      throw new HubError('config.badValue', said('school.needsTls', { host: address.host }));
  }
}

/** Those of its servers that are reached over a network. */
export function hostsBeyondLoopback({ url }: NatsAccess): string[] {
  return url
    .split(',')
    .map((each) => new URL(each.trim()))
    .filter(({ hostname }) => !isLoopback(hostname.replace(/^\[|\]$/g, '')))
    .map(({ host }) => host);
}

/** Tried for ever where `keepTrying`; else rejects with why not. `inboxPrefix`: where answers come. */
export async function connectNats(
  access: NatsAccess,
  options: { readonly name: string; readonly inboxPrefix: string; readonly keepTrying: boolean },
): Promise<NatsConnection> {
  checkAccess(access);
  const { connect } = await import('@nats-io/transport-node');
  const servers = access.url.split(',').map((each) => each.trim());
  const isTls = servers.some((each) => each.startsWith('tls:'));
  return connect({
    servers: servers.map((each) => each.replace(/^(nats|tls):\/\//, '')),
    name: options.name,
    inboxPrefix: options.inboxPrefix,
    maxReconnectAttempts: -1,
    reconnectTimeWait: 1_000,
    // A server that was away must not be run down by all its hubs at once.
    reconnectJitter: 500,
    waitOnFirstConnect: options.keepTrying,
    pingInterval: 10_000,
    maxPingOut: 2,
    timeout: 5_000,
    ignoreAuthErrorAbort: true,
    ...(access.user !== undefined && { user: access.user, pass: access.password ?? '' }),
    ...(isTls && { tls: tlsOf(access, servers) }),
  });
}

/**
 * The library tells TLS no name of a server that is given by its address, and TLS then asks for a certificate of "localhost":
 * a certificate of one of the addresses is what was meant.
 */
function tlsOf({ authorityFile }: NatsAccess, servers: readonly string[]): object {
  const hosts = servers.map((each) => new URL(each).hostname.replace(/^\[|\]$/g, ''));
  const addresses = hosts.filter((host) => isIP(host) !== 0);
  const isNamed = (name: string): boolean => addresses.length === 0 || hosts.includes(name);
  return {
    ...(authorityFile !== undefined && { ca: readAuthority(authorityFile) }),
    checkServerIdentity(name: string, certificate: PeerCertificate): Error | undefined {
      if (isNamed(name)) return checkServerIdentity(name, certificate);
      const faults = addresses.map((each) => checkServerIdentity(each, certificate));
      return faults.every((fault) => fault !== undefined) ? faults[0] : undefined;
    },
  };
}

function readAuthority(path: string): string {
  try {
    return readFileSync(path, 'utf8');
  } catch (error) {
    throw new HubError('config.badFile', told(error instanceof Error ? error.message : path), error);
  }
}
