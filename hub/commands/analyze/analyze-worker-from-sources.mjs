// Lets the analysing threads run from the sources, as tests start them: a thread does not take over the loader.

import { register } from 'tsx/esm/api';

register();
await import('./analyze-worker.ts');
