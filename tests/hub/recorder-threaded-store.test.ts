// The recorder in a thread of its own keeps the store's contract; and what it says while its disk does not write.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { beforeAll } from 'vitest';
import { systemClock } from '../../hub/base/system-clock.ts';
import { openThreadedStore } from '../../hub/recorder/thread/threaded-store.ts';
import { storeBinContract } from '../contract/store-bin-contract.ts';
import { type StoreUnderTest, storeContract } from '../contract/store-contract.ts';
import { bundleRecorder } from '../support/bundled-recorder.ts';

let entry = '';
beforeAll(async () => {
  entry = await bundleRecorder();
});

let directory = '';
const open = () =>
  openThreadedStore({ directory, entry, sealAtBytes: 900, clock: systemClock, warn: () => undefined });

const subject: StoreUnderTest = {
  open: () => {
    directory = mkdtempSync(join(tmpdir(), 'slackwater-store-'));
    return open();
  },
  reopen: async (store) => {
    await store.close();
    return open();
  },
  dispose: async (store) => {
    await store.close();
    rmSync(directory, { recursive: true, force: true, maxRetries: 5 });
  },
  outlivesProcess: true,
};
storeContract('the recorder in a thread that seals often', subject);
storeBinContract('the recorder in a thread that seals often', subject);
