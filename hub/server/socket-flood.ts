// Cuts a page's socket off when more comes over it than any page sends: counted in bytes as they arrive and in frames,
// before anything of them is parsed.

import type { Duplex } from 'node:stream';
import type { WebSocket } from 'ws';
import { TokenBucket } from './token-bucket.ts';

/** A page sends some 100 bytes a second; eight of the longest messages at once are far more than the outbox of marks holds. */
const burstBytes = 128 * 1024;
const bytesPerSecond = 16 * 1024;
/** Above the 40 requests a second that are only refused (socket-page.ts): who is told to wait and doesn't is cut off. */
const burstFrames = 240;
const framesPerSecond = 60;

/** Calls `cutOff` once. The socket has to have `autoPong` off: pings are answered here, as far as they are counted. */
export function watchForFlood(
  webSocket: WebSocket,
  raw: Duplex,
  nowMs: () => number,
  cutOff: () => void,
): void {
  const bytes = new TokenBucket(burstBytes, bytesPerSecond, nowMs());
  const frames = new TokenBucket(burstFrames, framesPerSecond, nowMs());
  let isCutOff = false;
  const count = (bucket: TokenBucket, amount: number): boolean => {
    if (!isCutOff && bucket.take(amount, nowMs())) return true;
    if (isCutOff) return false;
    isCutOff = true;
    raw.off('data', onBytes);
    cutOff();
    return false;
  };
  function onBytes(chunk: Buffer): void {
    count(bytes, chunk.length);
  }
  // Before the parser's own listener: what is too much is not parsed.
  raw.prependListener('data', onBytes);
  webSocket.prependListener('message', () => count(frames, 1));
  webSocket.on('ping', (data: Buffer) => {
    if (count(frames, 1)) webSocket.pong(data);
  });
  webSocket.on('pong', () => count(frames, 1));
}
