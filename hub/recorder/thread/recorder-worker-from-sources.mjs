// Lets the recorder's thread run from the sources (run-from-sources.mjs).

import { runFromSources } from '../../base/run-from-sources.mjs';

await runFromSources(new URL('./recorder-worker.ts', import.meta.url));
