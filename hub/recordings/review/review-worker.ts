// The thread in which recordings are worked out, so that no alarm waits for it. Takes packets, then one task; answers
// with news and a result. It opens no file and keeps nothing between tasks.

import { setPriority } from 'node:os';
import { parentPort } from 'node:worker_threads';
import type { StoredPacket } from '../../base/ports/stored-session.ts';
import { decodeBatch } from '../../recorder/packet-batch.ts';
import type { FromReviewThread, ToReviewThread } from './review-messages.ts';
import { buffersToHandOver, previewOf, runReviewTask } from './review-task.ts';

const port = parentPort;
if (port === null) throw new Error('review.noParentPort');

// On Linux a priority belongs to a thread; elsewhere it would be the whole hub's.
if (process.platform === 'linux') {
  try {
    setPriority(10);
  } catch {
    // A system that forbids it works all the same, only less politely.
  }
}

const say = (message: FromReviewThread): void =>
  port.postMessage(
    message,
    message.type === 'failed'
      ? []
      : buffersToHandOver(message.type === 'news' ? message.news : message.result),
  );

let packets: StoredPacket[] = [];

port.on('message', (message: ToReviewThread) => {
  if (message.type === 'packets') {
    const batch = decodeBatch(message.batch);
    if (batch.ok) for (const packet of batch.value) packets.push(packet);
    return;
  }
  if (message.type === 'preview') {
    say({ type: 'news', news: { type: 'preview', sent: previewOf(message.subject, message.streams) } });
    return;
  }
  const given = packets;
  packets = [];
  if (message.type === 'forget') return;
  try {
    const result = runReviewTask(message.task, given, (news) => say({ type: 'news', news }));
    say({ type: 'done', result });
  } catch (error) {
    say({ type: 'failed', reason: error instanceof Error ? (error.stack ?? error.message) : String(error) });
  }
});
