// A path between page and hub for what a hub cannot be asked to do: fall silent, refuse, be gone, speak garbage, be late.
// It passes websocket frames on as they are and knows nothing of the messages in them.

import { createServer, type IncomingMessage, request as requestOf, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import type { Duplex } from 'node:stream';
import { type RawData, WebSocket, WebSocketServer } from 'ws';
import { ownCookieOf, rememberOwnCookie } from './own-person.ts';

export interface FaultProxy {
  /** The hub's address by way of this path, without a slash at its end. */
  readonly url: string;
  /** Every frame that pages sent, oldest first. */
  readonly asked: readonly string[];
  /** Frames of the hub are thrown away: connected, and saying nothing. */
  mute: boolean;
  /** Requests and sockets are turned away, as while no hub listens. */
  refusing: boolean;
  /** Frames of the hub come this much later. */
  delayMs: number;
  /** Sends a frame of the test's own to every open page. */
  inject(text: string): void;
  /** Cuts every open socket without a goodbye. */
  drop(): void;
  /** From now on to another hub: one that was started anew. */
  leadTo(hubUrl: string): void;
  close(): Promise<void>;
}

/** Codes that only a socket itself may make of an end (RFC 6455, 7.4.1); they cannot be sent on. */
const unsendableCodes = new Set([1005, 1006, 1015]);

export async function openFaultProxy(hubUrl: string): Promise<FaultProxy> {
  let hub = new URL(hubUrl);
  const asked: string[] = [];
  const pages = new Set<WebSocket>();
  const sockets = new WebSocketServer({ noServer: true, perMessageDeflate: false });

  function passRequest(request: IncomingMessage, response: ServerResponse): void {
    if (proxy.refusing) {
      request.socket.destroy();
      return;
    }
    const { method, url, headers } = request;
    const passed = requestOf({ host: hub.hostname, port: hub.port, method, path: url, headers }, (answer) => {
      response.writeHead(answer.statusCode ?? 502, answer.headers);
      answer.pipe(response);
    });
    passed.on('error', () => response.destroy());
    request.pipe(passed);
  }

  function passSocket(request: IncomingMessage, socket: Duplex, head: Buffer): void {
    socket.on('error', () => socket.destroy());
    if (proxy.refusing) {
      socket.destroy();
      return;
    }
    const { cookie, origin, host } = request.headers;
    const toHub = new WebSocket(`ws://${hub.host}${request.url}`, {
      headers: { host, ...(cookie !== undefined && { cookie }), ...(origin !== undefined && { origin }) },
      perMessageDeflate: false,
    });
    toHub.on('error', () => socket.destroy());
    // Paused, so that no frame comes before there is a page to pass it to.
    toHub.once('open', () => toHub.pause());
    toHub.once('open', () =>
      sockets.handleUpgrade(request, socket, head, (page) => {
        join(page, toHub);
        toHub.resume();
      }),
    );
  }

  function join(page: WebSocket, toHub: WebSocket): void {
    pages.add(page);
    page.on('message', (data: RawData, isBinary) => {
      asked.push(String(data));
      if (toHub.readyState === WebSocket.OPEN) toHub.send(data, { binary: isBinary });
    });
    toHub.on('message', (data: RawData, isBinary) => {
      if (proxy.mute) return;
      const send = () => {
        if (page.readyState === WebSocket.OPEN) page.send(data, { binary: isBinary });
      };
      if (proxy.delayMs === 0) send();
      else setTimeout(send, proxy.delayMs);
    });
    const ends = (to: WebSocket) => (code: number, reason: Buffer) => {
      pages.delete(page);
      if (unsendableCodes.has(code)) to.terminate();
      else to.close(code, reason);
    };
    page.on('close', ends(toHub));
    toHub.on('close', ends(page));
    page.on('error', () => page.terminate());
  }

  const server = createServer(passRequest);
  server.on('upgrade', passSocket);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const url = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
  const cookie = ownCookieOf(hubUrl);
  if (cookie !== undefined) rememberOwnCookie(url, cookie);
  const proxy: FaultProxy = {
    url,
    asked,
    mute: false,
    refusing: false,
    delayMs: 0,
    inject(text) {
      for (const page of pages) page.send(text);
    },
    drop() {
      for (const page of pages) page.terminate();
    },
    leadTo(anotherUrl) {
      hub = new URL(anotherUrl);
    },
    async close() {
      for (const page of pages) page.terminate();
      server.closeAllConnections();
      await new Promise<void>((resolve) => server.close(() => resolve()));
    },
  };
  return proxy;
}
