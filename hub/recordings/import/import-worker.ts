// The thread in which files are read and made to sessions, so that no alarm waits for it. It opens no database: the hub is
// handed parts, and two of them at most are on their way.

import { setPriority } from 'node:os';
import { parentPort } from 'node:worker_threads';
import type { FromImportThread, ToImportThread } from './import-messages.ts';
import { ImportRefused, type ReadImport, readImport, runPreview } from './import-task.ts';

const port = parentPort;
if (port === null) throw new Error('import.noParentPort');

// On Linux a priority belongs to a thread; elsewhere it would be the whole hub's.
if (process.platform === 'linux') {
  try {
    setPriority(10);
  } catch {
    // A system that forbids it works all the same, only less politely.
  }
}

const say = (message: FromImportThread, transfer: ArrayBuffer[] = []): void =>
  port.postMessage(message, transfer);

const mostOnTheirWay = 2;
let read: ReadImport | undefined;
let onTheirWay = 0;
let taken: () => void = () => undefined;

let saidShare = -1;
function onProgress(share: number): void {
  if (Math.abs(share - saidShare) < 0.01) return;
  saidShare = share;
  say({ type: 'progress', share });
}

function finish(): void {
  read?.close();
  read = undefined;
}

async function store({
  startedWallAtMs,
  settings,
}: Extract<ToImportThread, { type: 'store' }>): Promise<void> {
  const from = read;
  if (from === undefined) return;
  const { durationMs } = from.recording;
  onTheirWay = 0;
  for (const part of from.parts(startedWallAtMs, settings)) {
    if (part.type === 'packets') onProgress(part.reachedMs / Math.max(1, durationMs));
    // All has been read by now; whoever hears of the end finds nothing left behind.
    else if (part.type === 'end') finish();
    onTheirWay += 1;
    say({ type: 'part', part }, part.type === 'packets' ? [part.chunk.body.buffer as ArrayBuffer] : []);
    while (onTheirWay >= mostOnTheirWay)
      await new Promise<void>((resolve) => {
        taken = resolve;
      });
  }
}

function fault(error: unknown): void {
  finish();
  if (error instanceof ImportRefused) say({ type: 'refused', said: error.said });
  else
    say({ type: 'failed', reason: error instanceof Error ? (error.stack ?? error.message) : String(error) });
}

port.on('message', (message: ToImportThread) => {
  try {
    switch (message.type) {
      case 'preview':
        say({ type: 'preview', preview: runPreview(message.file, onProgress) });
        return;
      case 'read':
        read = readImport(message.file, message.choice, onProgress);
        say({ type: 'read', recording: read.recording });
        return;
      case 'store':
        store(message).catch(fault);
        return;
      case 'taken':
        onTheirWay -= 1;
        taken();
        return;
      case 'drop':
        finish();
        return;
    }
  } catch (error) {
    fault(error);
  }
});
