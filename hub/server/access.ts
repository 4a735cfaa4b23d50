// Who may talk to the hub and what they may do: checks of Host and Origin that keep other web pages and rebound
// names out, the token of a joined device, and what of a message or list an athlete's page may see.

import type { IncomingMessage } from 'node:http';
import { isIP } from 'node:net';
import type { TLSSocket } from 'node:tls';
import cookie from '@fastify/cookie';
import type { Role } from '../../shared/schema-parts.ts';
import { isLoopback } from '../base/loopback.ts';
import type { PageDevice } from '../devices/join/device-register.ts';

/** Names by which a loopback hub may be addressed; anything else is a rebound DNS name. */
const loopbackNames = new Set(['localhost', '127.0.0.1', '[::1]']);

/** What a page may do. */
export interface PageAccess {
  readonly role: Role;
  /** The joined device, or null on the hub's own machine. */
  readonly deviceId: string | null;
  /** As given at joining; empty on the hub's own machine. */
  readonly deviceName: string;
  /** Athletes the page may see. */
  readonly athleteIds: 'all' | readonly string[];
  /** At a school: the rooms of a coach of some of them, who sees recordings of there only; missing for everybody else. */
  readonly rooms?: RoomsOfCoach;
}

export interface RoomsOfCoach {
  readonly hubs: readonly string[];
  /** As people call them. */
  readonly names: readonly string[];
}

/** Whoever has not come in yet. */
export const nobody: PageAccess = { role: 'onlooker', deviceId: null, deviceName: '', athleteIds: [] };

/** The hub's own person, who can read its data folder anyway: a coach. Others on the same machine are not. */
export const ownMachineAccess: PageAccess = {
  role: 'coach',
  deviceId: null,
  deviceName: '',
  athleteIds: 'all',
};

/** What a school says of a coach of some of its rooms. */
export type ScopeOfRooms = (hubs: readonly string[]) => {
  readonly athleteIds: readonly string[];
  readonly names: readonly string[];
};

/** What a joined device may do. `scopeOf`: at a school; elsewhere a coach of some rooms sees nobody. */
export function accessOfDevice(device: PageDevice, scopeOf?: ScopeOfRooms): PageAccess {
  const { deviceId, name: deviceName, role, athleteId, rooms: hubs } = device;
  if (hubs !== undefined) {
    const { athleteIds, names } = scopeOf?.(hubs) ?? { athleteIds: [], names: [] };
    return { role, deviceId, deviceName, athleteIds, rooms: { hubs, names } };
  }
  // A device kept as an athlete's but without one sees nobody rather than everybody.
  if (role === 'athlete')
    return { role, deviceId, deviceName, athleteIds: athleteId === null ? [] : [athleteId] };
  return { role, deviceId, deviceName, athleteIds: 'all' };
}

export const maySee = (access: PageAccess, athleteId: string | null): boolean =>
  athleteId === null || access.athleteIds === 'all' || access.athleteIds.includes(athleteId);

/** Ids of recordings begin with their room at a school. Null, of no recording, is nobody's room. */
export const maySeeSession = ({ rooms }: PageAccess, sessionId: string | null): boolean =>
  rooms === undefined || (sessionId !== null && rooms.hubs.includes(sessionId.split('.', 1)[0] ?? ''));

/** True when the request came over plain HTTP from this machine itself, and so not from a joined device. */
export function isFromOwnMachine(request: IncomingMessage): boolean {
  const { socket } = request;
  if ((socket as Partial<TLSSocket>).encrypted === true) return false;
  return isLoopback((socket.remoteAddress ?? '').replace(/^::ffff:/, ''));
}

// __Host-: browsers take it only with Secure, for this host alone and for every path (RFC 6265bis s4.1.3.2).
const tokenCookieName = '__Host-slackwater';

function cookieOf(request: IncomingMessage, name: string): string | undefined {
  const { cookie: header } = request.headers;
  return header === undefined ? undefined : cookie.parse(header)[name];
}

/** The token a request carries, or undefined. */
export const tokenOf = (request: IncomingMessage): string | undefined => cookieOf(request, tokenCookieName);

/** The token of a program that is no page (RFC 6750 s2.1), or undefined. */
export const bearerOf = (request: IncomingMessage): string | undefined =>
  /^Bearer ([\w-]{20,100})$/.exec(request.headers.authorization ?? '')?.[1];

/** True for a request of a browser on this machine that came by a link of the hub's own person. */
export function isOwnPerson(request: IncomingMessage, own: OwnTokens): boolean {
  const token = cookieOf(request, own.cookieName);
  return token !== undefined && isFromOwnMachine(request) && own.isToken(token);
}

/** The Set-Cookie value for the own person's browser. Without Secure and __Host-, which need TLS in some browsers. */
export function ownCookie({ cookieName }: OwnTokens, token: string, maxAgeSeconds: number): string {
  return cookie.serialize(cookieName, token, {
    path: '/',
    httpOnly: true,
    sameSite: 'strict',
    maxAge: maxAgeSeconds,
  });
}

/** The Set-Cookie value that gives a browser its token, out of reach of scripts and of other sites' requests. */
export function tokenCookie(token: string, maxAgeSeconds: number): string {
  return cookie.serialize(tokenCookieName, token, {
    path: '/',
    httpOnly: true,
    secure: true,
    sameSite: 'strict',
    maxAge: maxAgeSeconds,
  });
}

/** What `OwnPerson` (devices/own-person) tells of its tokens. */
interface OwnTokens {
  readonly cookieName: string;
  isToken(token: string): boolean;
}

const hostName = (authority: string): string => authority.replace(/:\d+$/, '').toLowerCase();

/**
 * True for a Host header that names this hub. On its own machine only loopback names do. From the network,
 * `isLanName` tells, and any bare IP address does: an address cannot be rebound to another machine as a name can.
 */
export function isKnownHost(request: IncomingMessage, isLanName: (name: string) => boolean): boolean {
  const { host } = request.headers;
  if (host === undefined) return false;
  const name = hostName(host);
  if (isFromOwnMachine(request)) return loopbackNames.has(name);
  return name === 'localhost' || isIP(name.replace(/^\[|\]$/g, '')) !== 0 || isLanName(name);
}

/**
 * False for what a browser says comes from another site, another port of this machine among them (Fetch Metadata, W3C
 * working draft, s2.3). Programs and browsers that do not know the header send none.
 */
export function isOwnSite(request: IncomingMessage): boolean {
  const site = request.headers['sec-fetch-site'];
  return site === undefined || site === 'same-origin' || site === 'none';
}

/**
 * True when a socket or a changing request comes from a page this hub served, or from no page at all (a program
 * sends no Origin; from the network it still needs a token).
 */
export function isOwnOrigin(request: IncomingMessage): boolean {
  const { origin, host } = request.headers;
  if (origin === undefined) return true;
  try {
    const url = new URL(origin);
    const scheme = (request.socket as Partial<TLSSocket>).encrypted === true ? 'https:' : 'http:';
    return url.host === host && url.protocol === scheme;
  } catch {
    return false;
  }
}
