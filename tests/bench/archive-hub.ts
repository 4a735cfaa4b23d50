// A hub that only serves an archive to its own person: no sensors, no session.

import type { HubStore } from '../../hub/base/ports/hub-store.ts';
import { systemClock } from '../../hub/base/system-clock.ts';
import { Hub } from '../../hub/live/hub.ts';
import type { RecordedSessions } from '../../hub/recordings/recorded-sessions.ts';
import { startHttpServer } from '../../hub/server/http-server.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import { joiningOfTests, ownCookie, rememberOwnCookie } from '../support/own-person.ts';
import { testLog } from '../support/serve-test-hub.ts';

const webDirectory = new URL('../../dist/web', import.meta.url).pathname;

export interface ArchiveHub {
  readonly url: string;
  /** The store stays open. */
  close(): Promise<void>;
}

export async function serveArchive(
  store: HubStore,
  recordings: RecordedSessions,
  hubVersion: string,
): Promise<ArchiveHub> {
  let nextId = 0;
  const makeId = () => {
    nextId += 1;
    return `id-${nextId}`;
  };
  const hub = new Hub({
    clock: systemClock,
    pageClock: systemClock,
    store,
    sources: [],
    createPipeline: pipelineFactory(),
    log: testLog,
    makeId,
    timeScale: 1,
    simulated: true,
  });
  const server = await startHttpServer(
    { hub, store, recordings, clock: systemClock, log: testLog, hubVersion },
    { host: '127.0.0.1', port: 0, webDirectory, makeId, joining: joiningOfTests(systemClock, makeId) },
  );
  const url = `http://127.0.0.1:${server.port}`;
  rememberOwnCookie(url, ownCookie);
  await hub.start();
  return {
    url,
    async close() {
      await hub.stop();
      await server.close();
    },
  };
}
