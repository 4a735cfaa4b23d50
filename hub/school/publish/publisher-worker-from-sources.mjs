// Lets the publishing thread run from the sources, as tests and benches start it: a thread does not take over the loader.

import { register } from 'tsx/esm/api';

register();
await import('./publisher-worker.ts');
