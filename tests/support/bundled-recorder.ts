// The recorder's thread as one file, so that a test that opens it often does not wait for a loader each time.

import { bundleModule } from './bundled-module.ts';

/** Answers with the entry for `openThreadedStore`. */
export const bundleRecorder = (): Promise<string> =>
  bundleModule('hub/recorder/thread/recorder-worker.ts', `recorder-worker-${process.pid}.mjs`);
