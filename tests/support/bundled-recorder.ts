// The recorder's thread as one file, so that a test that opens it often does not wait for a loader each time.

import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

/** Answers with the entry for `openThreadedStore`. */
export async function bundleRecorder(): Promise<string> {
  const outfile = fileURLToPath(
    new URL(`../../dist/tests/recorder-worker-${process.pid}.mjs`, import.meta.url),
  );
  await build({
    entryPoints: [fileURLToPath(new URL('../../hub/recorder/thread/recorder-worker.ts', import.meta.url))],
    bundle: true,
    platform: 'node',
    format: 'esm',
    target: 'node20',
    packages: 'external',
    outfile,
    logLevel: 'error',
  });
  return outfile;
}
