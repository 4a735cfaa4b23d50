// One page's socket: sends alarms at once, and keeps a slow page from slowing the hub by giving it only the
// newest values. What was dropped is counted and said in the next frame that gets through. A page that nobody sees gets its
// values a second's worth at a time, all of them.

import { liveFrame, type WholeState, wholeBlock } from '../../shared/live-frame/write-live-frame.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import type { Trace } from '../../shared/views.ts';
import type { LiveChange } from './live-changes.ts';

/** The things a transport must offer; a fake one has them too. */
export interface PageTransport {
  /** One text message, as it is or as its bytes. */
  sendText(text: string | Uint8Array): void;
  sendFrame(frame: Uint8Array): void;
  /** Bytes accepted but not yet handed to the network. */
  readonly bufferedBytes: number;
  close(code: number, reason: string): void;
}

/**
 * Beyond this much unsent, newest values wait and are collected. Anything unsent here means that the system's own buffers are
 * full already; a joining page's fill may pass through them at its own pace.
 */
const slowBytes = 16 * 1024;
/** Beyond this the page is gone in all but name; it reconnects and is filled in. */
const hopelessBytes = 4 * 1024 * 1024;

/** Of twice a second: what a hidden page is to have goes behind each second heartbeat, and behind each alarm. */
const heartbeatsAHelping = 2;

export interface PageConnection {
  /** `text` is the message already serialised once for all pages. */
  deliver(message: DownMessage, text: string | Uint8Array): void;
  /** The frame of a page that has just been welcomed: everyone's state. */
  introduce(frame: Uint8Array): void;
  /** `frame` says just these changes, written once for all pages that see them. */
  deliverLive(changes: readonly LiveChange[], frame: Uint8Array): void;
  /** Call now and then: sends what was held back once the page has caught up. */
  catchUp(): void;
  /** Nobody sees the page, or somebody does again: then it has at once what it has not yet. */
  setHidden(hidden: boolean): void;
  readonly droppedCount: number;
}

export function createPageConnection(transport: PageTransport, closeTooSlow: () => void): PageConnection {
  /** What was held back, by slot. Changes say nothing to a page that missed one: it is told the whole state. */
  const held = new Map<number, WholeState>();
  let total = 0;
  let isHidden = false;
  const isSlow = (): boolean => transport.bufferedBytes > slowBytes;

  function hold({ slot, state, fromMs, tracedToMs, traces }: LiveChange): void {
    const before = held.get(slot);
    const all = [...(before?.traces ?? []), ...traces];
    const drops = isSlow() || !isHidden;
    if (before !== undefined && drops) total += 1;
    const kept = drops ? newestOf(all) : joined(all);
    held.set(slot, {
      state,
      fromMs: before?.fromMs ?? fromMs,
      tracedToMs,
      traces: kept,
      droppedCount: (before?.droppedCount ?? 0) + (before !== undefined && drops ? 1 : 0),
      decimatedCount: (before?.decimatedCount ?? 0) + sampleCount(all) - sampleCount(kept),
    });
  }

  function sendHeld(): void {
    if (held.size === 0) return;
    transport.sendFrame(liveFrame([...held].map(([slot, whole]) => wholeBlock(slot, whole))));
    held.clear();
  }

  /** A page that nobody sees has its helping behind this. */
  const bringsHelping = (message: DownMessage): boolean =>
    message.type === 'alarms' ||
    (message.type === 'heartbeat' && message.sequence % heartbeatsAHelping === 0);

  const connection: PageConnection = {
    deliver(message, text) {
      if (transport.bufferedBytes > hopelessBytes) {
        closeTooSlow();
        return;
      }
      // What is held is of the session as it was.
      if (message.type === 'session') sendHeld();
      transport.sendText(text);
      if (!isHidden || bringsHelping(message)) connection.catchUp();
    },
    introduce(frame) {
      transport.sendFrame(frame);
    },
    deliverLive(changes, frame) {
      if (!isHidden && held.size === 0 && !isSlow()) {
        transport.sendFrame(frame);
        return;
      }
      for (const change of changes) hold(change);
      if (!isHidden) connection.catchUp();
    },
    catchUp() {
      if (!isSlow()) sendHeld();
    },
    setHidden(hidden) {
      isHidden = hidden;
      if (!hidden) connection.catchUp();
    },
    get droppedCount() {
      return total;
    },
  };
  return connection;
}

/** Every sample, by channel. `traces` are in order of time. */
function joined(traces: readonly Trace[]): Trace[] {
  const channels = new Map<Trace['channel'], Trace[]>();
  for (const trace of traces) channels.set(trace.channel, [...(channels.get(trace.channel) ?? []), trace]);
  return [...channels].map(([channel, parts]) => ({
    channel,
    atMs: parts.flatMap(({ atMs }) => atMs),
    value: parts.flatMap(({ value }) => value),
    quality: parts.map(({ quality }) => quality).join(''),
  }));
}

/**
 * The newest sample of each channel: the page draws a decimated stretch and can ask the recording for the rest. `traces` are
 * in order of time.
 */
function newestOf(traces: readonly Trace[]): Trace[] {
  const newest = new Map<Trace['channel'], Trace>();
  for (const { channel, atMs, value, quality } of traces)
    newest.set(channel, {
      channel,
      atMs: atMs.slice(-1),
      value: value.slice(-1),
      quality: quality.slice(-1),
    });
  return [...newest.values()];
}

const sampleCount = (traces: readonly Trace[]): number =>
  traces.reduce((sum, { atMs }) => sum + atMs.length, 0);
