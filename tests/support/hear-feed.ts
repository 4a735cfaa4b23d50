// What a page that sees everyone hears of a feed, without a socket: its live frames are said as the messages they stand for.

import * as z from 'zod/mini';
import type { PageFeed } from '../../hub/server/page-feed.ts';
import type { TraceFill } from '../../shared/live-frame/live-frame.ts';
import { LiveFrameReader } from '../../shared/live-frame/live-frame-reader.ts';
import { fillBlock, liveFrame } from '../../shared/live-frame/write-live-frame.ts';
import { type DownMessage, downMessageSchema } from '../../shared/messages/down.ts';

/** Reads a frame as a page does; throws where it can't be read. */
export function readFrame(reader: LiveFrameReader, frame: Uint8Array): DownMessage[] {
  const read = reader.read(frame);
  if (!read.ok) throw new Error(`a live frame can't be read: ${read.reason}`);
  return read.messages.map((message) => z.parse(downMessageSchema, message));
}

/** What a page that joins is filled in with, by way of its bytes. */
export const readFill = (fill: readonly TraceFill[]): DownMessage[] =>
  readFrame(new LiveFrameReader(), liveFrame(fill.map(fillBlock)));

/** From now on; returns what ends it. */
export function hearFeed(feed: PageFeed, hear: (message: DownMessage) => void): () => void {
  const reader = new LiveFrameReader();
  feed.welcome(null);
  readFrame(
    reader,
    feed.whole(() => true),
  );
  return feed.subscribe({
    message: hear,
    live(changes) {
      for (const message of readFrame(reader, liveFrame(changes.map(({ block }) => block)))) hear(message);
    },
  });
}
