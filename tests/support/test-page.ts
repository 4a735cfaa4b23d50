// A page's socket as a test drives it; every message it gets is checked against the contract.

import { WebSocket } from 'ws';
import * as z from 'zod/mini';
import { LiveFrameReader } from '../../shared/live-frame/live-frame-reader.ts';
import { type DownMessage, downMessageSchema } from '../../shared/messages/down.ts';
import type { HelloMessage } from '../../shared/messages/hello.ts';
import type { UpMessage } from '../../shared/messages/up.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';
import { readFrame } from './hear-feed.ts';
import { ownCookieOf } from './own-person.ts';

export interface TestPage {
  send(message: UpMessage | string): void;
  /** Resolves with the first message, past or coming, that fits; rejects when the page is closed before one comes. */
  until<Type extends DownMessage['type']>(
    type: Type,
    fits?: (m: Extract<DownMessage, { type: Type }>) => boolean,
  ): Promise<Extract<DownMessage, { type: Type }>>;
  readonly received: readonly DownMessage[];
  /** Resolves with the close code. */
  readonly closed: Promise<number>;
  close(): void;
}

export const hello: HelloMessage = { type: 'hello', protocolVersion, resume: null };

/**
 * Opens /ws of a hub at `url` (http or https; its certificate is not looked at), without TLS as its own person. At a school
 * `room` is the hub whose room it looks at.
 */
export function openTestPage(url: string, headers: Record<string, string> = {}, room?: string): TestPage {
  const query = room === undefined ? '' : `?room=${room}`;
  const socket = new WebSocket(`${url.replace(/^http/, 'ws')}/ws${query}`, {
    headers: { ...(ownCookieOf(url) !== undefined && { cookie: ownCookieOf(url) }), ...headers },
    rejectUnauthorized: false,
  });
  const received: DownMessage[] = [];
  const waiting: (() => void)[] = [];
  let over = false;
  const opened = new Promise<void>((resolve, reject) => {
    socket.once('open', resolve);
    socket.once('error', reject);
  });
  opened.catch(() => undefined);
  const wake = () => {
    for (const resolve of waiting.splice(0)) resolve();
  };
  const reader = new LiveFrameReader();
  socket.on('message', (data, isBinary) => {
    if (isBinary) received.push(...readFrame(reader, new Uint8Array(data as Buffer)));
    else received.push(z.parse(downMessageSchema, JSON.parse(String(data))));
    wake();
  });
  const closed = new Promise<number>((resolve) =>
    socket.once('close', (code) => {
      over = true;
      wake();
      resolve(code);
    }),
  );
  return {
    send(message) {
      const text = typeof message === 'string' ? message : JSON.stringify(message);
      void opened.then(
        () => socket.send(text),
        () => undefined,
      );
    },
    async until(type, fits = () => true) {
      await opened;
      for (;;) {
        const found = received.find((m) => m.type === type && fits(m as never));
        if (found !== undefined) return found as never;
        if (over) throw new Error(`the page was closed before ${type} came`);
        await new Promise<void>((resolve) => waiting.push(resolve));
      }
    },
    received,
    closed,
    close: () => socket.close(),
  };
}
