// The recorder in memory keeps the store's contract.

import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { storeContract } from '../contract/store-contract.ts';

storeContract('the recorder in memory', {
  open: () => openStoreInMemory(),
  reopen: (store) => store,
  dispose: (store) => store.close(),
  outlivesProcess: false,
});
