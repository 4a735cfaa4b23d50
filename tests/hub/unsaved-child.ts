// A process to be killed: hands packets to the recorder's thread and says after each that it is handed in, never that it is written.

import { writeSync } from 'node:fs';
import { systemClock } from '../../hub/base/system-clock.ts';
import { openThreadedStore } from '../../hub/recorder/thread/threaded-store.ts';
import { wallMs } from '../../shared/units.ts';
import { numberedPacket } from './recorder-child.ts';

/** Threads leave the pipe without waiting, so that a full one refuses. */
function say(count: number): void {
  for (;;)
    try {
      writeSync(1, `${count}\n`);
      return;
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'EAGAIN') throw error;
    }
}

const [directory, entry, commitEach] = process.argv.slice(2);
if (directory === undefined || entry === undefined) throw new Error('folder and entry');
const store = await openThreadedStore({
  directory,
  entry,
  sealAtBytes: 3_000,
  clock: systemClock,
  warn: (message, error) => {
    throw new Error(message, { cause: error });
  },
});
const start = {
  sessionId: 'killed',
  startedWallAtMs: wallMs(1_790_000_000_000),
  simulated: true,
  source: 'simulated' as const,
  title: 'To be killed',
  athletes: [],
};
await store.startSession(start);
for (let n = 0; ; n++) {
  store.appendPacket('killed', numberedPacket(n));
  say(n + 1);
  if (n % Number(commitEach) !== Number(commitEach) - 1) continue;
  store.commit('process');
  // The thread's answers are heard between two turns.
  await new Promise((resolve) => setImmediate(resolve));
}
