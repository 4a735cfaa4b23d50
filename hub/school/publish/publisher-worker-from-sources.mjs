// Lets the publishing thread run from the sources (run-from-sources.mjs).

import { runFromSources } from '../../base/run-from-sources.mjs';

await runFromSources(new URL('./publisher-worker.ts', import.meta.url));
