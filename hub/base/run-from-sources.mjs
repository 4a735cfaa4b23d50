// Lets a thread run from the sources, as tests and benches start it: a thread does not take over the loader.
// A test run bundles threads once (tests/tools/bundle-threads.ts): loading the sources takes a thread a second of processor time.

import { basename } from 'node:path';

/** @param {URL} worker its TypeScript file */
export async function runFromSources(worker) {
  const bundled = process.env['SLACKWATER_TEST_THREADS'];
  if (bundled !== undefined) return import(`${bundled}/${basename(worker.pathname, '.ts')}.js`);
  const { register } = await import('tsx/esm/api');
  register();
  return import(worker.href);
}
