// The recorder in memory keeps the store's contract.

import { MemoryStore } from '../../hub/recorder/memory-store.ts';
import { storeContract } from '../contract/store-contract.ts';

storeContract('the recorder in memory', {
  open: () => new MemoryStore(),
  reopen: (store) => store,
  dispose: (store) => store.close(),
  outlivesProcess: false,
});
