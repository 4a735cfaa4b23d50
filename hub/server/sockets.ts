// The websocket side of the server: who may open a socket, the pages that are open, and the fan-out of messages to them.

import type { Server as HttpServer, IncomingMessage } from 'node:http';
import type { Server as HttpsServer } from 'node:https';
import type { Duplex } from 'node:stream';
import { type WebSocket, WebSocketServer } from 'ws';
import { closeCodes } from '../../shared/error-codes.ts';
import { liveFrame } from '../../shared/live-frame/write-live-frame.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import { said } from '../../shared/said.ts';
import type { HubLog } from '../base/log.ts';
import type { AuditLog } from '../base/ports/audit-log.ts';
import type { Clock } from '../base/ports/clock.ts';
import { ServiceScope } from '../base/service-scope.ts';
import { type DeviceRegister, isPageDevice } from '../devices/join/device-register.ts';
import type { Hub } from '../live/hub.ts';
import type { PlanRuns } from '../plans/plan-runs.ts';
import { isKnownHost, isOwnOrigin, isOwnSite, maySee, type PageAccess } from './access.ts';
import { CueSpeaker } from './cue-speaker.ts';
import type { LiveChange } from './live-changes.ts';
import { createPageConnection } from './page-connection.ts';
import type { PageFeed } from './page-feed.ts';
import { createPresence } from './presence.ts';
import { type RadioDoor, radioPath } from './radio-sockets.ts';
import type { SchoolSide } from './school-rooms.ts';
import { watchForFlood } from './socket-flood.ts';
import { SocketPage } from './socket-page.ts';
import { visibleChanges } from './visible-part.ts';

/** A page sends a few hundred bytes a second; 16 KiB holds the longest note with room to spare. */
const mostMessageBytes = 16 * 1024;
/** A page sends every message whole. */
const mostFragments = 64;
const helloWithinMs = 5_000;
const mostPages = 128;
/** Places that pages of other devices can't take, so that the hub's own page always opens. */
const keptForOwnMachine = 8;
const mostGoodbyes = 32;
/** So that one address cannot keep all others from being told that they have not joined. */
const mostGoodbyesOfOneAddress = 4;
/** Pages of a school look at several rooms each. */
const mostRoomSockets = 1_024;
/** How long a device that was cut off for flooding stays out. */
const floodPauseMs = 10_000;
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
  readonly feed: PageFeed;
  readonly planRuns: PlanRuns;
  readonly log: HubLog;
  readonly clock: Clock;
  readonly devices: DeviceRegister;
  readonly isLanName: (name: string) => boolean;
  /** Decides what the page behind a request may do; undefined refuses it. */
  readonly accessOf: (request: IncomingMessage) => PageAccess | undefined;
  readonly makeId: () => string;
  readonly audit: AuditLog;
  /** Where radios on other computers come in; none where the hub has no Bluetooth. */
  readonly radioDoor: RadioDoor | null;
  /** Where this is a school's server. */
  readonly school?: SchoolSide;
}

interface OpenPage {
  readonly pageId: string;
  readonly request: IncomingMessage;
  readonly page: SocketPage;
}

/** Answers upgrades of each server until closed. */
export function serveSockets(
  servers: readonly (HttpServer | HttpsServer)[],
  ports: SocketPorts,
): SocketServer {
  return new Sockets(servers, ports);
}

class Sockets implements SocketServer {
  readonly #ports: SocketPorts;
  readonly #server = new WebSocketServer({
    noServer: true,
    maxPayload: mostMessageBytes,
    perMessageDeflate: false,
    // Pings are counted before they are answered (socket-flood.ts).
    autoPong: false,
    maxFragments: mostFragments,
  });
  readonly #presence: ReturnType<typeof createPresence>;
  readonly #cueSpeaker: CueSpeaker;
  readonly #pages = new Map<WebSocket, OpenPage>();
  /** Sockets that look at a room of a school. */
  readonly #rooms = new Map<WebSocket, IncomingMessage>();
  readonly #services = new ServiceScope();
  /** Sockets being told to go, with the address they came from. */
  readonly #leaving = new Map<WebSocket, string>();
  /** Devices that flooded, with the end of their pause. */
  readonly #pausedUntilMs = new Map<string, number>();
  #presenceTold = '';

  constructor(servers: readonly (HttpServer | HttpsServer)[], ports: SocketPorts) {
    this.#ports = ports;
    this.#presence = createPresence(ports.clock);
    this.#cueSpeaker = new CueSpeaker({
      clock: ports.clock,
      tell: (message) => this.#fanOut(message, null),
    });
    const onUpgrade = (request: IncomingMessage, socket: Duplex, head: Buffer): void =>
      this.#upgrade(request, socket, head);
    this.#services.onClose(() => this.#closePages());
    for (const server of servers) {
      server.on('upgrade', onUpgrade);
      this.#services.onClose(() => void server.off('upgrade', onUpgrade));
    }
    this.#services.onClose(ports.devices.onRemoved((deviceId) => this.#dropDevice(deviceId)));
    this.#services.onClose(ports.clock.every(watchIntervalMs, () => this.#watch()));
    this.#services.onClose(
      ports.hub.subscribe(({ type }) => {
        if (type === 'planRunChanged' || type === 'planRunStep') this.#tellPlanRun();
      }),
    );
    this.#services.onClose(
      ports.feed.subscribe({
        message: (message, athleteId) => this.#fanOut(message, athleteId),
        live: (changes) => this.#fanOutLive(changes),
      }),
    );
  }

  get pageCount(): number {
    return this.#pages.size;
  }

  async close(): Promise<void> {
    await this.#services.close();
  }

  #upgrade(request: IncomingMessage, socket: Duplex, head: Buffer): void {
    socket.on('error', () => socket.destroy());
    const { radioDoor } = this.#ports;
    if (radioDoor !== null && request.url === radioPath) {
      radioDoor.upgrade(request, socket, head);
      return;
    }
    const answer = this.#answerToUpgrade(request);
    if ('status' in answer) {
      socket.end(`HTTP/1.1 ${answer.status}\r\nConnection: close\r\nContent-Length: 0\r\n\r\n`);
      return;
    }
    this.#server.handleUpgrade(request, socket, head, (webSocket) => {
      // A browser hides the status of a refused upgrade from its page; a close code it can read, and offer to join.
      if (answer.access === undefined)
        this.#sayGoodbye(webSocket, request, closeCodes.notAllowed, 'not joined');
      else this.#openFor(webSocket, request, answer.access);
    });
  }

  #answerToUpgrade(request: IncomingMessage): { status: string } | { access: PageAccess | undefined } {
    const path = (request.url ?? '').split('?')[0];
    if (path !== '/ws') return { status: '404 Not Found' };
    if (!isKnownHost(request, this.#ports.isLanName) || !isOwnOrigin(request) || !isOwnSite(request))
      return { status: '403 Forbidden' };
    const access = this.#ports.accessOf(request);
    if (access === undefined) {
      // Those being told that they have not joined must not take the places of those who have.
      return this.#mayBeTold(request) ? { access } : { status: '401 Unauthorized' };
    }
    if (access.deviceId !== null && this.#isPaused(access.deviceId))
      return { status: '429 Too Many Requests' };
    return this.#hasPlaceFor(access) ? { access } : { status: '503 Service Unavailable' };
  }

  #mayBeTold(request: IncomingMessage): boolean {
    const address = request.socket.remoteAddress ?? '';
    const ofAddress = [...this.#leaving.values()].filter((each) => each === address);
    return this.#leaving.size < mostGoodbyes && ofAddress.length < mostGoodbyesOfOneAddress;
  }

  #isPaused(deviceId: string): boolean {
    const nowMs = this.#ports.clock.nowMs();
    for (const [device, untilMs] of this.#pausedUntilMs)
      if (untilMs <= nowMs) this.#pausedUntilMs.delete(device);
    return this.#pausedUntilMs.has(deviceId);
  }

  #hasPlaceFor({ deviceId }: PageAccess): boolean {
    if (deviceId === null) return this.#pages.size < mostPages;
    const own = [...this.#pages.values()].filter(({ page }) => page.access.deviceId === deviceId);
    return this.#pages.size < mostPages - keptForOwnMachine && own.length < mostPagesOfOneDevice;
  }

  /** At a school a page may look at the room of a hub. */
  #openFor(webSocket: WebSocket, request: IncomingMessage, access: PageAccess): void {
    const room = new URL(request.url ?? '/', 'http://hub').searchParams.get('room');
    if (room === null) this.#open(webSocket, request, access);
    else this.#enterRoom(webSocket, request, access, room);
  }

  #enterRoom(webSocket: WebSocket, request: IncomingMessage, access: PageAccess, room: string): void {
    const close = (code: number, reason: string): void => webSocket.close(code, reason);
    const page =
      this.#rooms.size >= mostRoomSockets
        ? undefined
        : this.#ports.school?.enter(room, access, {
            sendText: (text) => webSocket.send(text, { binary: false }),
            sendFrame: (frame) => webSocket.send(frame),
            get bufferedBytes() {
              return webSocket.bufferedAmount;
            },
            close,
          });
    if (page === undefined) {
      this.#sayGoodbye(webSocket, request, closeCodes.notAllowed, 'no such room');
      return;
    }
    this.#rooms.set(webSocket, request);
    const nowMs = (): number => performance.now();
    watchForFlood(webSocket, request.socket, nowMs, () => close(closeCodes.flooding, 'too much at once'));
    webSocket.on('message', (data, isBinary) => {
      if (!isBinary) page.received(String(data));
    });
    webSocket.on('close', () => {
      this.#rooms.delete(webSocket);
      page.left();
    });
    webSocket.on('error', (error) => this.#ports.log.info(`a room's connection failed: ${error.message}`));
  }

  #open(webSocket: WebSocket, request: IncomingMessage, access: PageAccess): void {
    const { hub, feed, planRuns, clock, devices, log, makeId, audit } = this.#ports;
    const pageId = makeId();
    const close = (code: number, reason: string): void => webSocket.close(code, reason);
    const page = new SocketPage({
      pageId,
      access,
      hub,
      feed,
      presence: this.#presence,
      cueSpeaker: this.#cueSpeaker,
      audit,
      clock,
      presentPages: () => this.#presence.list(devices.devices().filter(isPageDevice)),
      currentPlanRun: () => planRuns.current(0),
      close,
      connection: createPageConnection(
        {
          sendText: (text) => webSocket.send(text, { binary: false }),
          sendFrame: (frame) => webSocket.send(frame),
          get bufferedBytes() {
            return webSocket.bufferedAmount;
          },
          close,
        },
        () => close(closeCodes.tooSlow, 'too slow'),
      ),
    });
    const entry: OpenPage = { pageId, request, page };
    this.#pages.set(webSocket, entry);
    this.#presence.opened(pageId, access);
    const stopWaiting = clock.after(helloWithinMs, () => {
      if (!page.greeted) close(closeCodes.badMessage, 'no hello');
    });
    watchForFlood(
      webSocket,
      request.socket,
      () => performance.now(),
      () => {
        log.warn(`a page of ${access.deviceName || 'this machine'} sent far too much and was cut off`);
        if (access.deviceId !== null) this.#pausedUntilMs.set(access.deviceId, clock.nowMs() + floodPauseMs);
        this.#drop(webSocket, entry, closeCodes.flooding, 'too much at once');
        webSocket.pause();
      },
    );
    webSocket.on('message', (data, isBinary) =>
      page.received(isBinary ? undefined : String(data), performance.now()),
    );
    webSocket.on('close', () => {
      stopWaiting();
      this.#forget(webSocket, entry);
    });
    webSocket.on('error', (error) => log.info(`a page's connection failed: ${error.message}`));
  }

  #fanOut(message: DownMessage, athleteId: string | null): void {
    let text: Buffer | undefined;
    const wholeText = (): Buffer => {
      text ??= Buffer.from(JSON.stringify(message));
      return text;
    };
    for (const { page } of this.#pages.values())
      if (page.greeted && maySee(page.access, athleteId)) page.deliver(message, wholeText);
  }

  #fanOutLive(changes: readonly LiveChange[]): void {
    let whole: Uint8Array | undefined;
    for (const { page } of this.#pages.values()) {
      if (!page.greeted) continue;
      const visible = visibleChanges(page.access, changes);
      if (visible === changes) {
        whole ??= liveFrame(changes.map(({ block }) => block));
        page.deliverLive(changes, whole);
      } else if (visible.length > 0) page.deliverLive(visible, liveFrame(visible.map(({ block }) => block)));
    }
  }

  #tellPlanRun(): void {
    for (const { page } of this.#pages.values()) if (page.greeted) page.tellPlanRun();
  }

  #watch(): void {
    for (const [webSocket, entry] of this.#pages) {
      const access = this.#ports.accessOf(entry.request);
      if (access !== undefined) {
        if (access.rooms !== undefined) entry.page.renewAccess(access);
        continue;
      }
      this.#drop(webSocket, entry);
      this.#tellDropped(entry.page.access);
    }
    for (const [webSocket, request] of this.#rooms)
      if (this.#ports.accessOf(request) === undefined)
        this.#sayGoodbye(webSocket, request, closeCodes.notAllowed, 'no longer allowed');
    this.#tellPresence();
  }

  /** Tells coaches who is present, when that has changed. */
  #tellPresence(): void {
    const message: DownMessage = {
      type: 'presence',
      pages: this.#presence.list(this.#ports.devices.devices().filter(isPageDevice)),
    };
    const text = JSON.stringify(message);
    if (text === this.#presenceTold) return;
    this.#presenceTold = text;
    this.#fanOut(message, null);
  }

  /** Its time ran out, perhaps by a clock that was moved: nobody chose that, and it may be what an athlete lies beside. */
  #tellDropped({ role, deviceName }: PageAccess): void {
    const { hub } = this.#ports;
    if (hub.session === null || role === 'onlooker') return;
    hub.raiseSupervision({
      kind: 'deviceDropped',
      priority: 'high',
      subject: said('said.asTold', { text: deviceName }),
    });
  }

  #dropDevice(deviceId: string): void {
    for (const [webSocket, entry] of this.#pages)
      if (entry.page.access.deviceId === deviceId) this.#drop(webSocket, entry);
  }

  /** Nothing more goes to the page or is taken from it, whether or not it answers the goodbye. */
  #drop(
    webSocket: WebSocket,
    entry: OpenPage,
    code: number = closeCodes.notAllowed,
    reason = 'no longer allowed',
  ): void {
    this.#forget(webSocket, entry);
    webSocket.removeAllListeners('message');
    this.#sayGoodbye(webSocket, entry.request, code, reason);
  }

  #forget(webSocket: WebSocket, { pageId }: OpenPage): void {
    this.#pages.delete(webSocket);
    this.#presence.closed(pageId);
    this.#cueSpeaker.pageGone(pageId);
    this.#ports.hub.pageGone(pageId);
  }

  #sayGoodbye(webSocket: WebSocket, request: IncomingMessage, code: number, reason: string): void {
    this.#leaving.set(webSocket, request.socket.remoteAddress ?? '');
    webSocket.close(code, reason);
    const stopWaiting = this.#ports.clock.after(goodbyeMs, () => webSocket.terminate());
    webSocket.once('close', () => {
      stopWaiting();
      this.#leaving.delete(webSocket);
    });
    webSocket.on('error', () => webSocket.terminate());
  }

  async #closePages(): Promise<void> {
    for (const webSocket of [...this.#pages.keys(), ...this.#rooms.keys()])
      webSocket.close(closeCodes.hubStopping, 'hub stopping');
    await new Promise<void>((resolve) => this.#server.close(() => resolve()));
  }
}
