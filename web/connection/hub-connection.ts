// The page's socket to the hub: hello and resume, reconnecting, and the watchdog that notices a silent hub.

import * as z from 'zod/mini';
import { closeCodes } from '../../shared/error-codes.ts';
import { LiveFrameReader } from '../../shared/live-frame/live-frame-reader.ts';
import { type DownMessage, downMessageSchema } from '../../shared/messages/down.ts';
import type { HelloMessage } from '../../shared/messages/hello.ts';
import type { PageStateMessage } from '../../shared/messages/page-state.ts';
import type { UpMessage } from '../../shared/messages/up.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';
import { reconnectDelayMs } from './reconnect-delay.ts';
import { readSettingAside } from './set-aside.ts';
import type { Timers } from './timers.ts';

/** The hub sends a heartbeat twice a second; four missed ones make it silent. */
const silentAfterMs = 2_000;
const watchIntervalMs = 200;
/**
 * A look that comes so long after the last: the page itself stood still, and what the hub said meanwhile waits to be read. Above
 * the second that browsers allow the timers of a page in the background; after the longer the page was asleep, and nothing waits.
 */
const stoodStillMs = { least: 1_500, most: 30_000 };
/** So many looks in a row may wait for what was said meanwhile. Our choice. */
const mostLooksPutOff = 3;
/** A socket that has neither opened nor failed by then is given up. */
const openingLimitMs = 4_000;
const pageStateIntervalMs = 1_000;

/** Lists that are shown without a record that can't be read. Of athletes and alarms, nobody may be missing unseen. */
const listsThatMayMiss: ReadonlySet<string> = new Set(['sensors', 'pages']);

export type LinkState =
  /** Never heard the hub yet, and it is too early to complain. */
  | 'connecting'
  /** Heard within the last 2 s. */
  | 'live'
  /** Nothing for 2 s or more. */
  | 'silent'
  /** The hub speaks another version of the protocol: only a reload helps. */
  | 'wrongVersion'
  /** The hub has refused this page. */
  | 'refused';

/** What a message that is none of ours says it is. */
const namedSchema = z.object({ type: z.string() });

/** What the connection needs of a WebSocket. */
export interface Socket {
  send(text: string): void;
  close(): void;
}
export interface SocketListener {
  opened(): void;
  /** Text, or the bytes of a live frame. */
  received(data: string | Uint8Array): void;
  closed(code: number): void;
}

export interface HubConnectionOptions {
  readonly openSocket: (listener: SocketListener) => Socket;
  readonly timers: Timers;
  /** 0 to 1, for spreading reconnects. */
  readonly random: () => number;
  readonly resume: () => HelloMessage['resume'];
  readonly pageState: () => Omit<PageStateMessage, 'type'>;
  readonly onMessage: (message: DownMessage, pageNowMs: number) => void;
  /** A message that does not meet the contract: it is counted and said, never guessed at. */
  readonly onMalformed: (reason: string) => void;
  readonly onLink: (link: LinkState) => void;
}

export class HubConnection {
  readonly #options: HubConnectionOptions;
  #socket: Socket | null = null;
  /** Distinguishes the present socket's events from those of one that was given up. */
  #generation = 0;
  #open = false;
  /** Reads the live frames of the present socket. */
  #frames = new LiveFrameReader();
  /** The hub has answered `hello` on the present socket. */
  #welcomed = false;
  #link: LinkState = 'connecting';
  #attempt = 0;
  #lastHeardMs: number;
  #openingSinceMs = 0;
  #lookedAtMs: number;
  #looksPutOff = 0;
  #cancelRetry: (() => void) | null = null;
  #stopTimers: (() => void)[] = [];

  constructor(options: HubConnectionOptions) {
    this.#options = options;
    this.#lastHeardMs = options.timers.nowMs();
    this.#lookedAtMs = this.#lastHeardMs;
  }

  get link(): LinkState {
    return this.#link;
  }

  start(): void {
    this.#lastHeardMs = this.#options.timers.nowMs();
    this.#lookedAtMs = this.#lastHeardMs;
    this.#connect();
    this.#stopTimers = [
      this.#options.timers.every(watchIntervalMs, () => this.#watch()),
      this.#options.timers.every(pageStateIntervalMs, () => this.sendPageState()),
    ];
  }

  stop(): void {
    for (const stop of this.#stopTimers) stop();
    this.#stopTimers = [];
    this.#cancelRetry?.();
    this.#dropSocket();
  }

  /** False until the hub has answered `hello` on the present socket: what was sent before might never be read. */
  send(message: UpMessage): boolean {
    return this.#welcomed && this.#hand(message);
  }

  #hand(message: UpMessage): boolean {
    if (!this.#open || this.#socket === null) return false;
    this.#socket.send(JSON.stringify(message));
    return true;
  }

  sendPageState(): void {
    this.#hand({ type: 'pageState', ...this.#options.pageState() });
  }

  /** Looks at once, for a page that has just woken up. */
  check(): void {
    this.#watch();
  }

  #connect(): void {
    this.#dropSocket();
    this.#frames = new LiveFrameReader();
    const generation = this.#generation;
    const current = () => generation === this.#generation;
    this.#openingSinceMs = this.#options.timers.nowMs();
    this.#socket = this.#options.openSocket({
      opened: () => {
        if (!current()) return;
        this.#open = true;
        this.#hand({ type: 'hello', protocolVersion, resume: this.#options.resume() });
        this.sendPageState();
      },
      received: (data) => {
        if (!current()) return;
        if (typeof data === 'string') this.#receive(data);
        else this.#receiveFrame(data);
      },
      closed: (code) => {
        if (current()) this.#closed(code);
      },
    });
  }

  #dropSocket(): void {
    this.#generation += 1;
    this.#open = false;
    this.#welcomed = false;
    const socket = this.#socket;
    this.#socket = null;
    socket?.close();
  }

  #closed(code: number): void {
    this.#dropSocket();
    if (code === closeCodes.wrongProtocolVersion) {
      this.#setLink('wrongVersion');
      return;
    }
    if (code === closeCodes.notAllowed) {
      this.#setLink('refused');
      return;
    }
    this.#retryLater();
  }

  #retryLater(): void {
    if (this.#link === 'wrongVersion' || this.#link === 'refused') return;
    this.#cancelRetry?.();
    const delayMs = reconnectDelayMs(this.#attempt, this.#options.random());
    this.#attempt += 1;
    this.#cancelRetry = this.#options.timers.after(delayMs, () => {
      this.#cancelRetry = null;
      this.#connect();
    });
  }

  #receive(text: string): void {
    let json: unknown;
    try {
      json = JSON.parse(text);
    } catch {
      this.#options.onMalformed('not JSON');
      return;
    }
    this.#take(json);
  }

  /** What follows would be read against what this one changed: the page is filled in anew instead. */
  #receiveFrame(frame: Uint8Array): void {
    const read = this.#frames.read(frame);
    if (read.ok) {
      for (const message of read.messages) this.#take(message);
      return;
    }
    this.#options.onMalformed(`live frame: ${read.reason}`);
    this.#dropSocket();
    this.#retryLater();
  }

  #take(json: unknown): void {
    const parsed = this.#parse(json);
    if (!parsed.success) {
      const named = namedSchema.safeParse(json);
      const issue = parsed.error.issues[0];
      this.#options.onMalformed(
        `${named.success ? named.data.type.slice(0, 40) : 'no type'}: ${issue?.path.join('.') || 'unknown message'}`,
      );
      return;
    }
    const message = parsed.data;
    if (message.type === 'welcome' && message.protocolVersion !== protocolVersion) {
      this.#dropSocket();
      this.#setLink('wrongVersion');
      return;
    }
    if (message.type === 'refused' && message.code === 'wrongProtocolVersion') {
      this.#dropSocket();
      this.#setLink('wrongVersion');
      return;
    }
    if (message.type === 'welcome') this.#welcomed = true;
    // Only what meets the contract counts as hearing the hub, and only after its welcome: a stream of rubbish, or of
    // heartbeats to a page it never filled in, must end in an alarm and another try.
    if (!this.#welcomed) return;
    this.#lastHeardMs = this.#options.timers.nowMs();
    this.#attempt = 0;
    this.#options.onMessage(message, this.#lastHeardMs);
    this.#setLink('live');
  }

  #parse(json: unknown): ReturnType<typeof downMessageSchema.safeParse> {
    const parsed = downMessageSchema.safeParse(json);
    if (parsed.success) return parsed;
    const read = readSettingAside(downMessageSchema, json, (list) => listsThatMayMiss.has(list));
    if (read === undefined) return parsed;
    this.#options.onMalformed(read.setAside.join(', '));
    return { success: true, data: read.value };
  }

  #watch(): void {
    if (this.#link === 'wrongVersion' || this.#link === 'refused') return;
    const nowMs = this.#options.timers.nowMs();
    const stoodStill = this.#stoodStill(nowMs);
    if (nowMs - this.#lastHeardMs < silentAfterMs || stoodStill) return;
    const becameSilent = this.#link !== 'silent';
    this.#setLink('silent');
    // A half-open socket looks alive for minutes: give it up and open another.
    const stuckOpening =
      !this.#open && this.#socket !== null && nowMs - this.#openingSinceMs > openingLimitMs;
    const deafSocket = this.#open && nowMs - this.#openingSinceMs > openingLimitMs;
    // One that was not answered yet has as long as any opening: a busy page reads several hubs' answers one after another.
    if ((becameSilent && this.#welcomed) || stuckOpening || deafSocket) {
      this.#dropSocket();
      this.#retryLater();
    }
  }

  /** Not the hub was silent but the page busy: judged by the next look, when what waits has been read. */
  #stoodStill(nowMs: number): boolean {
    const sinceLookMs = nowMs - this.#lookedAtMs;
    this.#lookedAtMs = nowMs;
    const stoodStill = sinceLookMs >= stoodStillMs.least && sinceLookMs <= stoodStillMs.most;
    this.#looksPutOff = stoodStill ? this.#looksPutOff + 1 : 0;
    return stoodStill && this.#looksPutOff <= mostLooksPutOff;
  }

  #setLink(link: LinkState): void {
    if (link === this.#link) return;
    this.#link = link;
    this.#options.onLink(link);
  }
}
