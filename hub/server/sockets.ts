// The websocket side of the server: hello, requests, and the fan-out of the hub's messages to every page.

import type { IncomingMessage, Server } from 'node:http';
import type { Duplex } from 'node:stream';
import { type WebSocket, WebSocketServer } from 'ws';
import * as z from 'zod/mini';
import { closeCodes } from '../../shared/error-codes.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import { type UpMessage, upMessageSchema } from '../../shared/messages/up.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';
import type { Result } from '../../src/result.ts';
import type { Hub, HubLog } from '../hub.ts';
import type { Refusal } from '../live-session.ts';
import { isKnownHost, isOwnOrigin, type PageAccess } from './access.ts';
import { createPageConnection, type PageConnection } from './page-connection.ts';

/** A page sends a few hundred bytes a second; 16 KiB holds the longest note with room to spare. */
const mostMessageBytes = 16 * 1024;
/** Requests a page may make in one second before it is told to wait; a person taps far slower. */
const mostRequestsPerSecond = 40;
const helloWithinMs = 5_000;
const mostPages = 128;

export interface SocketServer {
  close(): Promise<void>;
  readonly pageCount: number;
}

export interface SocketPorts {
  readonly hub: Hub;
  readonly log: HubLog;
  readonly allowedHosts: ReadonlySet<string>;
  /** Decides what the page behind a request may do; undefined refuses it. */
  readonly accessOf: (request: IncomingMessage) => PageAccess | undefined;
  readonly makeId: () => string;
}

export function serveSockets(server: Server, ports: SocketPorts): SocketServer {
  const { hub, log } = ports;
  const sockets = new WebSocketServer({
    noServer: true,
    maxPayload: mostMessageBytes,
    perMessageDeflate: false,
  });
  const pages = new Map<WebSocket, { connection: PageConnection; access: PageAccess; greeted: boolean }>();

  function refuse(socket: Duplex, status: string): void {
    socket.end(`HTTP/1.1 ${status}\r\nConnection: close\r\nContent-Length: 0\r\n\r\n`);
  }

  const onUpgrade = (request: IncomingMessage, socket: Duplex, head: Buffer): void => {
    socket.on('error', () => socket.destroy());
    const answer = refusalOfUpgrade(request);
    if (answer.refused) refuse(socket, answer.status);
    else sockets.handleUpgrade(request, socket, head, (page) => welcomePage(page, answer.access));
  };

  function refusalOfUpgrade(
    request: IncomingMessage,
  ): { refused: true; status: string } | { refused: false; access: PageAccess } {
    const path = (request.url ?? '').split('?')[0];
    if (path !== '/ws') return { refused: true, status: '404 Not Found' };
    if (!isKnownHost(request.headers.host, ports.allowedHosts) || !isOwnOrigin(request.headers))
      return { refused: true, status: '403 Forbidden' };
    const access = ports.accessOf(request);
    if (access === undefined) return { refused: true, status: '401 Unauthorized' };
    if (pages.size >= mostPages) return { refused: true, status: '503 Service Unavailable' };
    return { refused: false, access };
  }
  server.on('upgrade', onUpgrade);

  function welcomePage(page: WebSocket, access: PageAccess): void {
    const pageId = ports.makeId();
    const connection = createPageConnection(
      {
        send: (text) => page.send(text),
        get bufferedBytes() {
          return page.bufferedAmount;
        },
        close: (code, reason) => page.close(code, reason),
      },
      () => page.close(closeCodes.tooSlow, 'too slow'),
    );
    const entry = { connection, access, greeted: false };
    pages.set(page, entry);
    const impatience = setTimeout(() => {
      if (!entry.greeted) page.close(closeCodes.badMessage, 'no hello');
    }, helloWithinMs);
    let windowStartMs = 0;
    let requestsInWindow = 0;

    page.on('message', (data, isBinary) => {
      const nowMs = performance.now();
      if (nowMs - windowStartMs > 1_000) {
        windowStartMs = nowMs;
        requestsInWindow = 0;
      }
      requestsInWindow += 1;
      const message = isBinary ? undefined : parseUp(String(data));
      if (message === undefined) {
        tell(connection, {
          type: 'refused',
          requestId: null,
          code: 'badMessage',
          message: 'The hub did not understand the page. Reload it.',
        });
        return;
      }
      const requestId = 'requestId' in message ? (message.requestId ?? null) : null;
      if (requestsInWindow > mostRequestsPerSecond) {
        tell(connection, {
          type: 'refused',
          requestId,
          code: 'tooManyRequests',
          message: 'Too many requests at once. Wait a second.',
        });
        return;
      }
      if (message.type === 'hello') {
        if (message.protocolVersion !== protocolVersion) {
          tell(connection, {
            type: 'refused',
            requestId: null,
            code: 'wrongProtocolVersion',
            message: `This page speaks version ${message.protocolVersion}, the hub version ${protocolVersion}. Reload the page.`,
          });
          page.close(closeCodes.wrongProtocolVersion, 'wrong protocol version');
          return;
        }
        const { welcome, fill } = hub.welcome(message.resume);
        const own = welcome.athletes.filter((state) => maySee(access, state.athlete.athleteId));
        tell(connection, {
          ...welcome,
          athletes: own,
          role: access.role,
          athleteIds: access.athleteIds === 'all' ? 'all' : [...access.athleteIds],
          deviceId: access.deviceId,
        });
        for (const part of fill) {
          const athleteId = 'athleteId' in part ? part.athleteId : null;
          if (maySee(access, athleteId)) tell(connection, part);
        }
        tell(connection, hub.sensors());
        entry.greeted = true;
        return;
      }
      if (!entry.greeted) {
        tell(connection, {
          type: 'refused',
          requestId,
          code: 'badMessage',
          message: 'The page must say hello first. Reload it.',
        });
        return;
      }
      const refusal = answer(message, access, pageId);
      if (refusal !== undefined)
        tell(connection, { type: 'refused', requestId, code: refusal.code, message: refusal.message });
    });
    page.on('close', () => {
      clearTimeout(impatience);
      pages.delete(page);
      hub.pageGone(pageId);
    });
    page.on('error', (error) => log.info(`a page's connection failed: ${error.message}`));
  }

  function answer(
    message: Exclude<UpMessage, { type: 'hello' }>,
    access: PageAccess,
    pageId: string,
  ): Refusal | undefined {
    if (message.type === 'pageState') {
      hub.pageState(pageId, {
        visible: message.visible,
        soundReady: message.soundReady,
        athleteIds: access.athleteIds,
      });
      return undefined;
    }
    if (access.role === 'onlooker')
      return { code: 'notAllowed', message: 'An onlooker can watch but not change anything.' };
    if ('athleteId' in message && !maySee(access, message.athleteId))
      return { code: 'notAllowed', message: 'This page may act only for its own athlete.' };
    return refusalOf(carryOut(message, access));
  }

  function carryOut(
    message: Exclude<UpMessage, { type: 'hello' | 'pageState' }>,
    access: PageAccess,
  ): Result<unknown, Refusal> {
    switch (message.type) {
      case 'startSession':
        if (!message.athleteIds.every((id) => maySee(access, id)))
          return {
            ok: false,
            reason: { code: 'notAllowed', message: 'This page may act only for its own athlete.' },
          };
        return hub.startSession(message.athleteIds, message.title);
      case 'endSession':
        return hub.endSession();
      case 'addMark':
        return hub.addMark(message);
      case 'removeMark':
        return hub.removeMark(message.markId);
      case 'acknowledgeAlarms':
        return hub.acknowledge(message.athleteId);
      case 'pauseAudio':
        return hub.pauseAudio(message.athleteId, message.paused);
      case 'changeSettings':
        return hub.changeSettings(message.athleteId, message.settings);
    }
  }

  const unsubscribe = hub.subscribe((message, athleteId) => {
    let text: string | undefined;
    for (const { connection, access, greeted } of pages.values()) {
      if (!greeted || !maySee(access, athleteId)) continue;
      text ??= JSON.stringify(message);
      connection.deliver(message, text);
    }
  });

  return {
    async close() {
      unsubscribe();
      server.off('upgrade', onUpgrade);
      for (const page of pages.keys()) page.close(closeCodes.hubStopping, 'hub stopping');
      await new Promise<void>((resolve) => sockets.close(() => resolve()));
    },
    get pageCount() {
      return pages.size;
    },
  };
}

const maySee = (access: PageAccess, athleteId: string | null): boolean =>
  athleteId === null || access.athleteIds === 'all' || access.athleteIds.includes(athleteId);

const refusalOf = (result: Result<unknown, Refusal>): Refusal | undefined =>
  result.ok ? undefined : result.reason;

function tell(connection: PageConnection, message: DownMessage): void {
  connection.deliver(message, JSON.stringify(message));
}

function parseUp(text: string): UpMessage | undefined {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    // Not JSON: answered with badMessage like any other malformed request.
    return undefined;
  }
  const checked = z.safeParse(upMessageSchema, value);
  return checked.success ? checked.data : undefined;
}
