// How many connections one address may have open and begin, so that nobody takes up the places, or the handshakes, of all.

import type { Server, Socket } from 'node:net';
import { TokenBucket } from './token-bucket.ts';

export interface ConnectionLimits {
  /** Of all addresses together. */
  readonly most: number;
  readonly mostOfOneAddress: number;
  /** New ones from one address: so many at once, and then so many a second. */
  readonly burst: number;
  readonly perSecond: number;
}

/** A browser keeps six to a host, and a page its socket: ten devices behind one address of a router, loaded twice at once. */
export const deviceConnections: ConnectionLimits = {
  most: 512,
  mostOfOneAddress: 72,
  burst: 160,
  perSecond: 16,
};
/** All of this machine is one address. */
export const ownConnections: ConnectionLimits = {
  most: 384,
  mostOfOneAddress: 384,
  burst: 512,
  perSecond: 128,
};

/** Addresses whose connections have all ended are remembered for as long as their bucket fills; this many at most. */
const mostRemembered = 4_096;

/**
 * Puts the limits before whatever the server does with a connection: one too many is cut off before its handshake costs
 * anything. Call it before the server listens.
 */
export function limitConnections(server: Server, limits: ConnectionLimits, nowMs: () => number): void {
  const openOf = new Map<string, number>();
  const buckets = new Map<string, TokenBucket>();
  server.maxConnections = limits.most;

  function isWithin(address: string): boolean {
    const now = nowMs();
    let bucket = buckets.get(address);
    if (bucket === undefined) {
      if (buckets.size >= mostRemembered)
        for (const [each, old] of buckets) if (old.isFull(now)) buckets.delete(each);
      // Somebody has thousands of addresses: then only the limits of all together are left.
      if (buckets.size >= mostRemembered) return true;
      bucket = new TokenBucket(limits.burst, limits.perSecond, now);
      buckets.set(address, bucket);
    }
    return (openOf.get(address) ?? 0) < limits.mostOfOneAddress && bucket.take(1, now);
  }

  const handlers = server.listeners('connection');
  server.removeAllListeners('connection');
  server.on('connection', (socket: Socket) => {
    const address = socket.remoteAddress;
    if (address === undefined || !isWithin(address)) {
      socket.destroy();
      return;
    }
    openOf.set(address, (openOf.get(address) ?? 0) + 1);
    socket.once('close', () => {
      const left = (openOf.get(address) ?? 1) - 1;
      if (left === 0) openOf.delete(address);
      else openOf.set(address, left);
    });
    for (const handle of handlers) handle.call(server, socket);
  });
}
