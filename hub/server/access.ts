// Who may talk to the hub: checks of Host and Origin that keep other web pages and rebound names out.

import type { IncomingMessage } from 'node:http';
import { isIP } from 'node:net';
import type { Role } from '../../shared/schema-parts.ts';

/** Names by which a loopback hub may be addressed; anything else is a rebound DNS name. */
const loopbackNames = new Set(['localhost', '127.0.0.1', '[::1]']);

/** What a page may do. Until joining from other devices is asked for, the hub answers only its own machine: a coach. */
export interface PageAccess {
  readonly role: Role;
  /** The joined device, or null on the hub's own machine. */
  readonly deviceId: string | null;
  /** Athletes the page may see. */
  readonly athleteIds: 'all' | readonly string[];
}

const hostName = (authority: string): string => authority.replace(/:\d+$/, '').toLowerCase();

/** True for a Host header that names this hub. `allowed` are further names it was told to listen as. */
export function isKnownHost(host: string | undefined, allowed: ReadonlySet<string>): boolean {
  if (host === undefined) return false;
  const name = hostName(host);
  return (
    loopbackNames.has(name) ||
    allowed.has(name) ||
    (allowed.has('*ip*') && isIP(name.replace(/^\[|\]$/g, '')) !== 0)
  );
}

/**
 * True when a socket or a changing request comes from a page this hub served, or from no page at all (a program
 * on this machine sends no Origin).
 */
export function isOwnOrigin(headers: IncomingMessage['headers']): boolean {
  const { origin, host } = headers;
  if (origin === undefined) return true;
  try {
    return new URL(origin).host === host;
  } catch {
    return false;
  }
}
