// One page's socket: sends alarms at once, and keeps a slow page from slowing the hub by giving it only the
// newest values. What was dropped is counted and said in the next message that gets through.

import type { DownMessage } from '../../shared/messages/down.ts';

/** The three things a transport must offer; a fake one has them too. */
export interface PageTransport {
  send(text: string): void;
  /** Bytes accepted but not yet handed to the network. */
  readonly bufferedBytes: number;
  close(code: number, reason: string): void;
}

/** Beyond this much unsent, only alarms, holds, marks and session changes are queued: about 3 s of 16 athletes. */
const slowBytes = 64 * 1024;
/** Beyond this the page is gone in all but name; it reconnects and is filled in. */
const hopelessBytes = 4 * 1024 * 1024;

export interface PageConnection {
  /** `text` is the message already serialised once for all pages. */
  deliver(message: DownMessage, text: string): void;
  /** Call now and then: sends what was held back once the page has caught up. */
  catchUp(): void;
  readonly droppedCount: number;
}

export function createPageConnection(transport: PageTransport, closeTooSlow: () => void): PageConnection {
  const heldLatest = new Map<string, Extract<DownMessage, { type: 'latest' }>>();
  const heldTraceFrom = new Map<string, Extract<DownMessage, { type: 'trace' }>>();
  const dropped = new Map<string, number>();
  let total = 0;

  function passOver(athleteId: string): void {
    dropped.set(athleteId, (dropped.get(athleteId) ?? 0) + 1);
    total += 1;
  }

  function hold(message: Extract<DownMessage, { type: 'latest' | 'trace' }>): void {
    if (message.type === 'latest') {
      if (heldLatest.has(message.athleteId)) passOver(message.athleteId);
      heldLatest.set(message.athleteId, message);
      return;
    }
    // Of traces only the newest sample of each channel is kept, with how many were left out: the page draws a
    // decimated stretch and can ask the recording for the rest.
    const before = heldTraceFrom.get(message.athleteId);
    const newest = message.traces.map((trace) => ({
      channel: trace.channel,
      atMs: trace.atMs.slice(-1),
      value: trace.value.slice(-1),
      quality: trace.quality.slice(-1),
    }));
    const leftOut = message.traces.reduce((sum, trace) => sum + trace.atMs.length - 1, 0);
    const replaced = before?.traces.reduce((sum, trace) => sum + trace.atMs.length, 0) ?? 0;
    heldTraceFrom.set(message.athleteId, {
      ...message,
      fromMs: before?.fromMs ?? message.fromMs,
      traces: newest,
      decimatedCount: (before?.decimatedCount ?? 0) + leftOut + replaced + message.decimatedCount,
    });
  }

  const connection: PageConnection = {
    deliver(message, text) {
      if (message.type === 'latest' || message.type === 'trace') {
        const holdsBack = heldLatest.size > 0 || heldTraceFrom.size > 0;
        if (holdsBack || transport.bufferedBytes > slowBytes) {
          hold(message);
          connection.catchUp();
          return;
        }
      }
      if (transport.bufferedBytes > hopelessBytes) {
        closeTooSlow();
        return;
      }
      transport.send(text);
    },
    catchUp() {
      if (transport.bufferedBytes > slowBytes) return;
      for (const message of heldTraceFrom.values()) transport.send(JSON.stringify(message));
      heldTraceFrom.clear();
      for (const message of heldLatest.values()) {
        transport.send(JSON.stringify({ ...message, droppedCount: dropped.get(message.athleteId) ?? 0 }));
        dropped.delete(message.athleteId);
      }
      heldLatest.clear();
    },
    get droppedCount() {
      return total;
    },
  };
  return connection;
}
