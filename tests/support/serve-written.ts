// A hub that serves what was written into its store, on a clock that runs on so that pages hear from it.

import type { SqliteStore } from '../../hub/recorder/sqlite-store.ts';
import type { ReviewRunner } from '../../hub/recordings/review/review-runner.ts';
import { createFakeClock } from './fake-clock.ts';
import { type ServedTestHub, serveTestHub } from './serve-test-hub.ts';

const webDirectory = new URL('../../dist/web', import.meta.url).pathname;
const beatMs = 250;

export async function serveWritten(store: SqliteStore, review?: ReviewRunner): Promise<ServedTestHub> {
  const clock = createFakeClock(1_000, Date.now());
  const served = await serveTestHub({
    webDirectory,
    store,
    clock,
    sourceKind: 'simulated',
    ...(review !== undefined && { review }),
  });
  const beat = setInterval(() => clock.advance(beatMs), beatMs);
  return {
    ...served,
    async close() {
      clearInterval(beat);
      await served.close();
    },
  };
}
