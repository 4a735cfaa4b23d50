// A hub with a scripted source, a fake clock and a store in memory, served on a free port.

import { createHub, type Hub, initialSettings } from '../../hub/hub.ts';
import type { SensorSource, Store } from '../../hub/ports.ts';
import { createRecordedSessions } from '../../hub/recorded-session.ts';
import { MemoryStore } from '../../hub/recorder/memory-store.ts';
import { type HttpServer, startHttpServer } from '../../hub/server/http-server.ts';
import { createPipeline } from '../../src/pipeline.ts';
import { createFakeClock, type FakeClock } from './fake-clock.ts';
import { createScriptedSource, type ScriptedSource, scriptedSensorIds } from './scripted-source.ts';

export interface ServedTestHub {
  readonly hub: Hub;
  readonly store: Store;
  readonly clock: FakeClock;
  readonly source: ScriptedSource;
  readonly server: HttpServer;
  readonly url: string;
  close(): Promise<void>;
}

export const testLog = { info: () => undefined, warn: () => undefined, error: () => undefined };

/** One athlete, Mira, with both sensors; nothing moves until the test advances the clock. */
export async function serveTestHub(
  options: { webDirectory?: string; sourceKind?: SensorSource['source'] } = {},
): Promise<ServedTestHub> {
  const clock = createFakeClock();
  const store = new MemoryStore();
  const source = createScriptedSource(clock, options.sourceKind);
  store.saveAthlete({
    athleteId: 'mira',
    name: 'Mira',
    simulated: options.sourceKind === 'simulated',
    settings: initialSettings,
  });
  for (const sensorId of Object.values(scriptedSensorIds)) store.assignSensor(sensorId, 'mira');
  let nextId = 0;
  const makeId = () => {
    nextId += 1;
    return `id-${nextId}`;
  };
  const hub = createHub({
    clock,
    pageClock: clock,
    store,
    sources: [source],
    createPipeline,
    log: testLog,
    makeId,
    hubVersion: 'test',
    timeScale: 1,
    simulated: options.sourceKind === 'simulated',
  });
  const server = await startHttpServer(
    {
      hub,
      store,
      recordings: createRecordedSessions(store, createPipeline),
      clock,
      log: testLog,
      hubVersion: 'test',
    },
    { host: '127.0.0.1', port: 0, webDirectory: options.webDirectory ?? '/nonexistent', makeId },
  );
  await hub.start();
  return {
    hub,
    store,
    clock,
    source,
    server,
    url: `http://127.0.0.1:${server.port}`,
    async close() {
      await hub.stop();
      await server.close();
    },
  };
}
