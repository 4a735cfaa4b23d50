// Lets the review thread run from the sources (run-from-sources.mjs).

import { runFromSources } from '../../base/run-from-sources.mjs';

await runFromSources(new URL('./review-worker.ts', import.meta.url));
