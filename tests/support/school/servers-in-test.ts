// A message server and a database for the tests of a file, and what they opened closed after each: the message server then
// begins anew without what was kept in it.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll } from 'vitest';
import { type NatsServer, type PostgresServer, startNats, startPostgres } from './servers.ts';

export interface ServersInTest {
  /** There from the first test on. */
  readonly nats: NatsServer;
  readonly postgres: PostgresServer;
  /** Gone after the last test. */
  readonly folder: string;
  readonly newFolder: () => string;
  /** Closes what was opened after the first `count` now. */
  readonly closeAfter: (count: number) => Promise<void>;
  /** Closed after the test, the last opened first. */
  readonly opened: <Thing extends { close(): unknown }>(thing: Thing) => Thing;
}

/** To be called at the top of a file of tests; `name` stands in its folder's. `natsConfig`: what the message server has in its settings
 * beside its address and folder. */
export function serversInTest(name: string, natsConfig = ''): ServersInTest {
  const folder = mkdtempSync(join(tmpdir(), `slackwater-${name}-`));
  const open: { close(): unknown }[] = [];
  let running: { readonly nats: NatsServer; readonly postgres: PostgresServer } | undefined;
  const servers = () => {
    if (running === undefined) throw new Error('servers start before the first test');
    return running;
  };
  const closeAfter = async (count: number): Promise<void> => {
    for (const each of open.splice(count).reverse()) await each.close();
  };
  beforeAll(async () => {
    const [nats, postgres] = await Promise.all([startNats(natsConfig), startPostgres()]);
    running = { nats, postgres };
  });
  afterEach(async () => {
    await closeAfter(0);
    const { nats } = servers();
    await nats.stop('SIGKILL');
    rmSync(join(nats.folder, 'jetstream'), { recursive: true, force: true });
    await nats.start();
  });
  afterAll(async () => {
    await running?.nats.stop();
    await running?.postgres.stop();
    rmSync(folder, { recursive: true, force: true });
  });
  return {
    get nats() {
      return servers().nats;
    },
    get postgres() {
      return servers().postgres;
    },
    folder,
    newFolder: () => mkdtempSync(join(folder, 'data-')),
    closeAfter,
    opened: (thing) => {
      open.push(thing);
      return thing;
    },
  };
}
