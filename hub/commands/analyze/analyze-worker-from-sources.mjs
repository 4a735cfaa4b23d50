// Lets the analysing threads run from the sources (run-from-sources.mjs).

import { runFromSources } from '../../base/run-from-sources.mjs';

await runFromSources(new URL('./analyze-worker.ts', import.meta.url));
