// The recorder in memory keeps the store's contract.

import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { storeBinContract } from '../contract/store-bin-contract.ts';
import { type StoreUnderTest, storeContract } from '../contract/store-contract.ts';

const subject: StoreUnderTest = {
  open: () => openStoreInMemory(),
  reopen: (store) => store,
  dispose: (store) => store.close(),
  outlivesProcess: false,
};
storeContract('the recorder in memory', subject);
storeBinContract('the recorder in memory', subject);
