// The websocket side of the server: hello, requests, and the fan-out of the hub's messages to every page.

import type { Server as HttpServer, IncomingMessage } from 'node:http';
import type { Server as HttpsServer } from 'node:https';
import type { Duplex } from 'node:stream';
import { type WebSocket, WebSocketServer } from 'ws';
import * as z from 'zod/mini';
import { closeCodes } from '../../shared/error-codes.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import { type UpMessage, upMessageSchema } from '../../shared/messages/up.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';
import type { Result } from '../../src/result.ts';
import type { Clock } from '../base/ports.ts';
import type { DeviceRegister } from '../devices/join/device-register.ts';
import type { Hub, HubLog } from '../live/hub.ts';
import type { Refusal } from '../live/live-session.ts';
import { isKnownHost, isOwnOrigin, maySee, type PageAccess } from './access.ts';
import { createPageConnection, type PageConnection } from './page-connection.ts';
import { createPresence } from './presence.ts';
import { visiblePart } from './visible-part.ts';

/** A page sends a few hundred bytes a second; 16 KiB holds the longest note with room to spare. */
const mostMessageBytes = 16 * 1024;
/** Requests a page may make in one second before it is told to wait; a person taps far slower. */
const mostRequestsPerSecond = 40;
const helloWithinMs = 5_000;
const mostPages = 128;
/** Places that pages of other devices can't take, so that the hub's own page always opens. */
const keptForOwnMachine = 8;
const mostGoodbyes = 32;
/** So that one device cannot keep the others out. */
const mostPagesOfOneDevice = 8;
/** How often rights that end by themselves are looked at, and coaches told who is present. */
const watchIntervalMs = 1_000;
/** A page that does not answer the goodbye is cut off. */
const goodbyeMs = 2_000;

export interface SocketServer {
  close(): Promise<void>;
  readonly pageCount: number;
}

export interface SocketPorts {
  readonly hub: Hub;
  readonly log: HubLog;
  readonly clock: Clock;
  readonly devices: DeviceRegister;
  readonly isLanName: (name: string) => boolean;
  /** Decides what the page behind a request may do; undefined refuses it. */
  readonly accessOf: (request: IncomingMessage) => PageAccess | undefined;
  readonly makeId: () => string;
}

interface OpenPage {
  readonly pageId: string;
  readonly request: IncomingMessage;
  readonly connection: PageConnection;
  access: PageAccess;
  greeted: boolean;
}

/** Answers upgrades of each server until closed. */
export function serveSockets(
  servers: readonly (HttpServer | HttpsServer)[],
  ports: SocketPorts,
): SocketServer {
  const { hub, log, clock, devices } = ports;
  const presence = createPresence(clock);
  const sockets = new WebSocketServer({
    noServer: true,
    maxPayload: mostMessageBytes,
    perMessageDeflate: false,
  });
  const pages = new Map<WebSocket, OpenPage>();
  let presenceTold = '';

  function refuse(socket: Duplex, status: string): void {
    socket.end(`HTTP/1.1 ${status}\r\nConnection: close\r\nContent-Length: 0\r\n\r\n`);
  }

  const onUpgrade = (request: IncomingMessage, socket: Duplex, head: Buffer): void => {
    socket.on('error', () => socket.destroy());
    const answer = answerToUpgrade(request);
    if ('status' in answer) {
      refuse(socket, answer.status);
      return;
    }
    sockets.handleUpgrade(request, socket, head, (page) => {
      // A browser hides the status of a refused upgrade from its page; a close code it can read, and offer to join.
      if (answer.access === undefined) sayGoodbye(page, closeCodes.notAllowed, 'not joined');
      else welcomePage(page, request, answer.access);
    });
  };

  function answerToUpgrade(
    request: IncomingMessage,
  ): { status: string } | { access: PageAccess | undefined } {
    const path = (request.url ?? '').split('?')[0];
    if (path !== '/ws') return { status: '404 Not Found' };
    if (!isKnownHost(request, ports.isLanName) || !isOwnOrigin(request)) return { status: '403 Forbidden' };
    const access = ports.accessOf(request);
    if (access === undefined) {
      // Those being told that they have not joined must not take the places of those who have.
      const goodbyes = sockets.clients.size - pages.size;
      return goodbyes < mostGoodbyes ? { access } : { status: '401 Unauthorized' };
    }
    const most = access.deviceId === null ? mostPages : mostPages - keptForOwnMachine;
    if (pages.size >= most) return { status: '503 Service Unavailable' };
    if (access.deviceId !== null) {
      const own = [...pages.values()].filter((page) => page.access.deviceId === access.deviceId);
      if (own.length >= mostPagesOfOneDevice) return { status: '503 Service Unavailable' };
    }
    return { access };
  }
  for (const server of servers) server.on('upgrade', onUpgrade);

  function sayGoodbye(page: WebSocket, code: number, reason: string): void {
    page.close(code, reason);
    const cutOff = clock.after(goodbyeMs, () => page.terminate());
    page.once('close', cutOff);
    page.on('error', () => page.terminate());
  }

  /** Nothing more goes to the page or is taken from it, whether or not it answers the goodbye. */
  function drop(page: WebSocket, entry: OpenPage): void {
    forget(page, entry);
    page.removeAllListeners('message');
    sayGoodbye(page, closeCodes.notAllowed, 'no longer allowed');
  }

  function forget(page: WebSocket, { pageId }: OpenPage): void {
    pages.delete(page);
    presence.closed(pageId);
    hub.pageGone(pageId);
  }

  /** As given at joining; empty for the hub's own machine. */
  function deviceName({ deviceId }: PageAccess): string {
    return devices.devices().find((device) => device.deviceId === deviceId)?.name ?? '';
  }

  /** Tells coaches who is present, when that has changed. */
  function tellPresence(): void {
    const message: DownMessage = { type: 'presence', pages: presence.list(devices.devices()) };
    const text = JSON.stringify(message);
    if (text === presenceTold) return;
    presenceTold = text;
    for (const { connection, access, greeted } of pages.values())
      if (greeted && access.role === 'coach') connection.deliver(message, text);
  }

  const stopWatch = clock.every(watchIntervalMs, () => {
    for (const [page, entry] of pages) {
      const access = ports.accessOf(entry.request);
      if (access === undefined) drop(page, entry);
    }
    tellPresence();
  });
  const stopListening = devices.onRemoved((deviceId) => {
    for (const [page, entry] of pages) if (entry.access.deviceId === deviceId) drop(page, entry);
  });

  function welcomePage(page: WebSocket, request: IncomingMessage, access: PageAccess): void {
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
    const entry: OpenPage = { pageId, request, connection, access, greeted: false };
    pages.set(page, entry);
    presence.opened(pageId, access);
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
        const whole: DownMessage[] = [
          {
            ...welcome,
            role: access.role,
            athleteIds: access.athleteIds === 'all' ? 'all' : [...access.athleteIds],
            deviceId: access.deviceId,
          },
          ...fill,
          hub.sensors(),
          { type: 'presence', pages: presence.list(devices.devices()) },
        ];
        for (const message of whole) {
          const part = visiblePart(access, message);
          if (part !== undefined) tell(connection, part);
        }
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
      forget(page, entry);
    });
    page.on('error', (error) => log.info(`a page's connection failed: ${error.message}`));
  }

  function answer(
    message: Exclude<UpMessage, { type: 'hello' }>,
    access: PageAccess,
    pageId: string,
  ): Refusal | undefined {
    if (message.type === 'pageState') {
      const { visible, soundReady } = message;
      presence.said(pageId, { visible, soundReady });
      // An onlooker may be anywhere and can do nothing, so nobody's safety rests on their page.
      if (access.role !== 'onlooker')
        hub.pageState(pageId, { visible, soundReady, athleteIds: access.athleteIds });
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
        if (hub.session?.athleteIds.every((id) => maySee(access, id)) === false)
          return {
            ok: false,
            reason: { code: 'notAllowed', message: 'Others are in this session. Only a coach may end it.' },
          };
        return hub.endSession();
      case 'addMark':
        return hub.addMark(message);
      case 'removeMark':
        return hub.removeMark(message.markId, (athleteId) => maySee(access, athleteId));
      case 'rateHold':
        return hub.rateHold(message.athleteId, message.holdId, message.feeling);
      case 'acknowledgeAlarms':
        return hub.acknowledge(message.athleteId, message.alarmIds, deviceName(access));
      case 'pauseAudio':
        return hub.pauseAudio(message.athleteId, message.paused);
      case 'changeSettings':
        return hub.changeSettings(message.athleteId, message.settings);
    }
  }

  const unsubscribe = hub.subscribe((message, athleteId) => {
    // Written once for the many pages that get the whole message.
    let wholeText: string | undefined;
    for (const { connection, access, greeted } of pages.values()) {
      if (!greeted || !maySee(access, athleteId)) continue;
      const part = visiblePart(access, message);
      if (part === undefined) continue;
      if (part !== message) {
        tell(connection, part);
        continue;
      }
      wholeText ??= JSON.stringify(message);
      connection.deliver(message, wholeText);
    }
  });

  return {
    async close() {
      unsubscribe();
      stopWatch();
      stopListening();
      for (const server of servers) server.off('upgrade', onUpgrade);
      for (const page of pages.keys()) page.close(closeCodes.hubStopping, 'hub stopping');
      await new Promise<void>((resolve) => sockets.close(() => resolve()));
    },
    get pageCount() {
      return pages.size;
    },
  };
}

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
