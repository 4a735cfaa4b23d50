// The rooms of a school: what each hub tells live, handed on to the pages that look at it; which hubs have fallen silent; and
// what a person at the school asks of a hub, put to it.

import type { NatsConnection, Subscription } from '@nats-io/transport-node';
import * as z from 'zod/mini';
import { closeCodes } from '../../../shared/error-codes.ts';
import { downMessageSchema } from '../../../shared/messages/down.ts';
import { upMessageSchema } from '../../../shared/messages/up.ts';
import { protocolVersion } from '../../../shared/protocol-version.ts';
import { type Said, said } from '../../../shared/said.ts';
import {
  type RoomDo,
  type RoomWelcome,
  roomDoneSchema,
  roomRequestSchema,
  roomWelcomeSchema,
} from '../../../shared/school/room-questions.ts';
import { numberHeader } from '../../../shared/school/school-version.ts';
import { type HubIdentity, readSubject, subjects } from '../../../shared/school/subjects.ts';
import type { WallMs } from '../../../shared/units.ts';
import type { HubLog } from '../../base/log.ts';
import type { AuditLog } from '../../base/ports/audit-log.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { PageAccess } from '../../server/access.ts';
import { auditEntry } from '../../server/audit.ts';
import type { RoomPage, RoomSocket } from '../../server/school-rooms.ts';
import { unpackJson } from '../kept-bytes.ts';

/** A hub says twice a second that it lives; one that has said nothing for so long is silent. Our choice, above a page's 2 s. */
const silentAfterMs = 5_000;
const watchEveryMs = 500;
/** A hub that has not answered by then is taken for out of reach. */
const answerWithinMs = 4_000;
/** A page that takes no more is let go, and comes back to the newest. */
const mostUnsentBytes = 1 << 20;

export interface RoomState {
  readonly hub: string;
  readonly name: string;
  readonly isSilent: boolean;
  /** Of the school's clock; null for a hub that was never heard since the school began. */
  readonly heardAtWallMs: WallMs | null;
  /** A session ran when it was last heard. */
  readonly isRecording: boolean;
  readonly athleteNames: readonly string[];
}

interface Room {
  name: string;
  /** Who it is: live messages of another under its name are none of the room's. Null until it has come. */
  hubId: string | null;
  /** Of the last live message; null before the first. */
  lastNumber: number | null;
  heardAtMs: number | null;
  heardAtWallMs: WallMs | null;
  isRecording: boolean;
  athleteNames: readonly string[];
  isSilent: boolean;
  readonly pages: Set<Page>;
}

/** A live message as it came. */
interface Told {
  readonly number: number;
  readonly bytes: number;
  readonly send: (socket: RoomSocket) => void;
}

interface Page {
  readonly socket: RoomSocket;
  readonly access: PageAccess;
  readonly by: string;
  readonly mayAsk: boolean;
  /** What came while the hub was asked for the whole: kept until it is known which of it is news. Null when it was not asked yet. */
  held: Told[] | null;
  heldBytes: number;
  /** Live messages up to this number are in what the page was told first; null until it was. */
  toldUpTo: number | null;
}

export interface RoomsParts {
  readonly connection: NatsConnection;
  readonly school: string;
  readonly clock: Clock;
  readonly log: HubLog;
  readonly audit: Pick<AuditLog, 'append'>;
  /** Who an athlete of a hub is at the school. */
  readonly personOf: (hub: string, athleteId: string) => string;
  /** A hub fell silent in a session, has another name while it is, or is heard again. */
  readonly silent: (room: RoomState, isSilent: boolean) => void;
}

export class Rooms {
  readonly #parts: RoomsParts;
  readonly #rooms = new Map<string, Room>();
  #subscription: Subscription | undefined;
  #stopWatching: () => void = () => undefined;

  constructor(parts: RoomsParts) {
    this.#parts = parts;
  }

  open(): void {
    const { connection, school, clock } = this.#parts;
    this.#subscription = connection.subscribe(subjects.everyLive(school), {
      callback: (error, message) => {
        const from = error === null ? readSubject(message.subject) : undefined;
        if (from === undefined || this.#rooms.get(from.hub)?.hubId !== from.hubId) return;
        const number = Number(message.headers?.get(numberHeader));
        if (from.kind === 'frame') this.#frame(from.hub, number, message.data);
        else this.#text(from.hub, number, message.data);
      },
    });
    this.#stopWatching = clock.every(watchEveryMs, () => this.#watch());
  }

  close(): void {
    this.#stopWatching();
    this.#subscription?.unsubscribe();
    for (const { pages } of this.#rooms.values())
      for (const { socket } of pages) socket.close(closeCodes.hubStopping, 'school stopping');
  }

  /** From the archive or a greeting: a hub there is, under this name; `hubId` null where nobody has come under it yet. */
  know(hub: string, name: string, hubId: string | null): void {
    const room = this.#roomOf(hub);
    const isRenamed = room.name !== name;
    room.name = name;
    if (hubId !== null) room.hubId = hubId;
    if (isRenamed && room.isSilent) this.#parts.silent(stateOf(hub, room), true);
  }

  /** A hub says that it is there: a sign of life too, and one that says nothing more is silent from here on. */
  greeted({ hub, hubId }: HubIdentity, name: string): void {
    this.know(hub, name, hubId);
    this.#heard(hub);
    void this.#askSession(hub);
  }

  list(): RoomState[] {
    return [...this.#rooms].map(([hub, room]) => stateOf(hub, room)).sort(byName);
  }

  enter(hub: string, access: PageAccess, socket: RoomSocket): RoomPage | undefined {
    const room = this.#rooms.get(hub);
    // A room's messages are what a coach of it hears: codes, words between coaches, everybody in it. Others see recordings.
    if (room === undefined || access.role !== 'coach') return undefined;
    if (access.rooms?.hubs.includes(hub) === false) return undefined;
    const page: Page = {
      socket,
      access,
      by: access.deviceName === '' ? this.#parts.school : access.deviceName,
      mayAsk: access.role === 'coach',
      held: null,
      heldBytes: 0,
      toldUpTo: null,
    };
    room.pages.add(page);
    return {
      received: (text) => void this.#received(hub, page, text),
      left: () => void room.pages.delete(page),
    };
  }

  #roomOf(hub: string): Room {
    const known = this.#rooms.get(hub);
    if (known !== undefined) return known;
    const room: Room = {
      name: hub,
      hubId: null,
      lastNumber: null,
      heardAtMs: null,
      heardAtWallMs: null,
      isRecording: false,
      athleteNames: [],
      isSilent: true,
      pages: new Set(),
    };
    this.#rooms.set(hub, room);
    return room;
  }

  #heard(hub: string): Room {
    const room = this.#roomOf(hub);
    room.heardAtMs = this.#parts.clock.nowMs();
    room.heardAtWallMs = this.#parts.clock.wallNowMs();
    if (room.isSilent) {
      room.isSilent = false;
      this.#parts.silent(stateOf(hub, room), false);
    }
    return room;
  }

  /** Of a live message: its room. One that is missing before it may have been an alarm: the pages ask for the whole again. */
  #heardLive(hub: string, number: number): Room {
    const room = this.#heard(hub);
    if (room.lastNumber !== null && number !== room.lastNumber + 1) this.#beginAnew(room, 'gap');
    room.lastNumber = number;
    return room;
  }

  #beginAnew(room: Room, why: string): void {
    for (const page of room.pages)
      if (page.held !== null || page.toldUpTo !== null) {
        page.held = null;
        page.toldUpTo = null;
        page.socket.close(closeCodes.tooSlow, why);
      }
  }

  #frame(hub: string, number: number, frame: Uint8Array): void {
    const room = this.#heardLive(hub, number);
    // The library's buffer is another message's afterwards.
    const kept = Uint8Array.from(frame);
    this.#handOn(room, { number, bytes: kept.length, send: (socket) => socket.sendFrame(kept) });
  }

  #handOn(room: Room, told: Told): void {
    for (const page of room.pages) {
      if (page.toldUpTo !== null) {
        if (told.number <= page.toldUpTo) continue;
        if (page.socket.bufferedBytes <= mostUnsentBytes) told.send(page.socket);
        else page.socket.close(closeCodes.tooSlow, 'too slow');
      } else if (page.held !== null) {
        page.held.push(told);
        page.heldBytes += told.bytes;
        if (page.heldBytes > mostUnsentBytes) page.socket.close(closeCodes.tooSlow, 'too slow');
      }
    }
  }

  #text(hub: string, number: number, bytes: Uint8Array): void {
    const room = this.#heardLive(hub, number);
    const text = Buffer.from(bytes).toString('utf8');
    // Whatever a hub says, what a page is handed is a message of the wire.
    const checked = z.safeParse(downMessageSchema, parsed(text));
    if (!checked.success) return;
    const message = checked.data;
    if (message.type === 'session') {
      room.isRecording = message.session?.status === 'recording';
      const inSession = new Set(message.session?.athleteIds ?? []);
      room.athleteNames = message.athletes
        .filter(({ athleteId }) => inSession.has(athleteId))
        .map(({ name }) => name);
    }
    // Who is at a page of the room, and its plan's run, are matters of the room.
    if (message.type === 'presence' || message.type === 'planRun') return;
    this.#handOn(room, { number, bytes: text.length, send: (socket) => socket.sendText(text) });
  }

  #watch(): void {
    const nowMs = this.#parts.clock.nowMs();
    for (const [hub, room] of this.#rooms) {
      if (room.isSilent || room.heardAtMs === null || nowMs - room.heardAtMs < silentAfterMs) continue;
      room.isSilent = true;
      this.#parts.silent(stateOf(hub, room), true);
      // Pages see that the hub is silent by their own watch; they come back when it is heard.
      for (const { socket } of room.pages) socket.close(closeCodes.tooSlow, 'room silent');
    }
  }

  /** Of a hub that was there before the school: whether a session runs. */
  async #askSession(hub: string): Promise<void> {
    const welcome = await this.#askWelcome(hub);
    const room = this.#rooms.get(hub);
    if (welcome === undefined || room === undefined) return;
    const { session, athletes } = welcome.greeting;
    room.isRecording = session?.status === 'recording';
    room.athleteNames = athletes.map(({ athlete }) => athlete.name);
  }

  async #received(hub: string, page: Page, text: string): Promise<void> {
    const message = z.safeParse(upMessageSchema, parsed(text));
    if (!message.success) return;
    if (message.data.type === 'hello') return this.#greet(hub, page);
    const request = z.safeParse(roomRequestSchema, message.data);
    if (request.success) return this.#ask(hub, page, request.data);
    if ('requestId' in message.data) this.#refuse(page, message.data.requestId, said('school.inTheRoom'));
  }

  /** Heard first and asked then: what happens while the hub answers is held, and told after the whole where it is news. */
  async #greet(hub: string, page: Page): Promise<void> {
    if (page.held !== null || page.toldUpTo !== null) return;
    const held: Told[] = [];
    page.held = held;
    page.heldBytes = 0;
    const welcome = await this.#askWelcome(hub);
    // It was closed meanwhile.
    if (page.held !== held) return;
    if (welcome === undefined) {
      page.held = null;
      page.socket.close(closeCodes.hubStopping, 'the room does not answer');
      return;
    }
    if (welcome.protocolVersion !== protocolVersion) {
      page.held = null;
      page.socket.close(closeCodes.wrongProtocolVersion, 'wrong protocol version');
      return;
    }
    page.socket.sendText(JSON.stringify(welcome.greeting));
    page.socket.sendFrame(Buffer.from(welcome.fill, 'base64'));
    for (const message of welcome.messages) page.socket.sendText(JSON.stringify(message));
    page.socket.sendFrame(Buffer.from(welcome.whole, 'base64'));
    page.held = null;
    page.toldUpTo = welcome.toldUpTo;
    for (const { number, send } of held) if (number > welcome.toldUpTo) send(page.socket);
  }

  async #ask(hub: string, page: Page, request: RoomDo['request']): Promise<void> {
    if (!page.mayAsk) {
      this.#refuse(page, request.requestId, said('refusal.coachOnly'));
      return;
    }
    const body: RoomDo = { by: page.by, request };
    const answer = z.safeParse(roomDoneSchema, await this.#request(hub, 'do', JSON.stringify(body)));
    const { requestId } = request;
    if (!answer.success) this.#refuse(page, requestId, said('school.roomSilent'));
    else if (answer.data.refused !== null)
      page.socket.sendText(JSON.stringify({ type: 'refused', requestId, ...answer.data.refused }));
    else {
      page.socket.sendText(JSON.stringify({ type: 'done', requestId }));
      this.#writeDown(hub, page, request);
    }
  }

  /** Who put alarms aside from here, and in which room. */
  #writeDown(hub: string, { access }: Page, request: RoomDo['request']): void {
    const { audit, clock } = this.#parts;
    const athleteId =
      request.type === 'acknowledgeAlarms' ? this.#parts.personOf(hub, request.athleteId) : null;
    audit.append(auditEntry(access, 'alarmsAcknowledged', clock, { athleteId, room: hub }));
  }

  #refuse(page: Page, requestId: string, what: Said): void {
    page.socket.sendText(JSON.stringify({ type: 'refused', requestId, code: 'notAllowed', said: what }));
  }

  async #askWelcome(hub: string): Promise<RoomWelcome | undefined> {
    const checked = z.safeParse(roomWelcomeSchema, await this.#request(hub, 'welcome', '{}'));
    return checked.success ? checked.data : undefined;
  }

  /** Undefined where the hub does not answer. */
  async #request(hub: string, question: 'welcome' | 'do', body: string): Promise<unknown> {
    const { connection, school } = this.#parts;
    const hubId = this.#rooms.get(hub)?.hubId ?? null;
    if (hubId === null) return undefined;
    try {
      const answer = await connection.request(subjects.to(school, { hub, hubId }, question), body, {
        timeout: answerWithinMs,
      });
      return unpackJson(answer.data);
    } catch {
      return undefined;
    }
  }
}

const stateOf = (hub: string, room: Room): RoomState => ({
  hub,
  name: room.name,
  isSilent: room.isSilent,
  heardAtWallMs: room.heardAtWallMs,
  isRecording: room.isRecording,
  athleteNames: room.athleteNames,
});

const byName = (one: RoomState, other: RoomState): number =>
  one.name < other.name ? -1 : one.name > other.name ? 1 : 0;

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}
