// The recorder on disk keeps the store's contract, at the usual journal size and at one that seals all the time.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { storeBinContract } from '../contract/store-bin-contract.ts';
import { type StoreUnderTest, storeContract } from '../contract/store-contract.ts';

for (const [name, sealAtBytes] of [
  ['the recorder on disk', 2 ** 18],
  ['the recorder on disk that seals often', 900],
] as const) {
  let directory = '';
  const subject: StoreUnderTest = {
    open: () => {
      directory = mkdtempSync(join(tmpdir(), 'slackwater-store-'));
      return openSqliteStore({ directory, sealAtBytes });
    },
    reopen: (store) => {
      store.close();
      return openSqliteStore({ directory, sealAtBytes });
    },
    dispose: (store) => {
      store.close();
      rmSync(directory, { recursive: true, force: true, maxRetries: 5 });
    },
    outlivesProcess: true,
  };
  storeContract(name, subject);
  storeBinContract(name, subject);
}
