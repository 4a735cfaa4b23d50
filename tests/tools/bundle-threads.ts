// Before a run of tests: the hub's threads as files that load at once. Made of the sources as they are, and gone after the run.

import { rmSync } from 'node:fs';
import { bundleModules } from '../support/bundled-module.ts';

let folder = '';

export async function setup(): Promise<void> {
  folder = await bundleModules(
    [
      'hub/recordings/import/import-worker.ts',
      'hub/recordings/review/review-worker.ts',
      'hub/recorder/thread/recorder-worker.ts',
      'hub/school/publish/publisher-worker.ts',
      'hub/commands/analyze/analyze-worker.ts',
    ],
    `threads-${process.pid}`,
  );
  // Read by the `*-from-sources.mjs` beside each.
  process.env['SLACKWATER_TEST_THREADS'] = folder;
}

export function teardown(): void {
  rmSync(folder, { recursive: true, force: true });
}
