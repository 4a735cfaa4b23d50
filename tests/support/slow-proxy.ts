// A TCP path to the hub that a test can cut, mend and slow down: cut means silence, as when a network goes, not a close.

import { type AddressInfo, connect, createServer, type Socket } from 'node:net';
import { ownCookieOf, rememberOwnCookie } from './own-person.ts';

export interface SlowProxy {
  /** The hub's address by way of this path. */
  readonly url: string;
  cut(): void;
  mend(): void;
  close(): Promise<void>;
}

/** `delayMs` each way, and at most `bytesPerSecond` towards the page. */
export async function openSlowProxy(
  hubUrl: string,
  { delayMs = 0, bytesPerSecond = Number.POSITIVE_INFINITY } = {},
): Promise<SlowProxy> {
  const { hostname, port } = new URL(hubUrl);
  const sockets = new Set<Socket>();
  const held: (() => void)[] = [];
  let isCut = false;

  function forward(from: Socket, to: Socket, rate: number): void {
    let freeAtMs = 0;
    from.on('data', (chunk: Buffer) => {
      const nowMs = performance.now();
      freeAtMs = Math.max(freeAtMs, nowMs) + (chunk.length / rate) * 1_000;
      const send = () => {
        if (isCut) held.push(send);
        else if (!to.destroyed) to.write(chunk);
      };
      if (rate !== Number.POSITIVE_INFINITY) {
        from.pause();
        setTimeout(() => from.resume(), freeAtMs - nowMs);
      }
      setTimeout(send, delayMs + freeAtMs - nowMs);
    });
    from.on('close', () => {
      sockets.delete(from);
      if (!isCut) to.destroy();
    });
    from.on('error', () => from.destroy());
  }

  const server = createServer((page) => {
    const hub = connect({ host: hostname, port: Number(port) });
    sockets.add(page);
    sockets.add(hub);
    forward(page, hub, Number.POSITIVE_INFINITY);
    forward(hub, page, bytesPerSecond);
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const url = `http://127.0.0.1:${(server.address() as AddressInfo).port}/`;
  const cookie = ownCookieOf(hubUrl);
  if (cookie !== undefined) rememberOwnCookie(url, cookie);
  return {
    url,
    cut() {
      isCut = true;
    },
    mend() {
      isCut = false;
      for (const send of held.splice(0)) send();
    },
    async close() {
      for (const socket of sockets) socket.destroy();
      await new Promise<void>((resolve) => server.close(() => resolve()));
    },
  };
}
