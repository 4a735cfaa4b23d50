// Lets the publishing thread run from the sources, as tests and benches start it: a thread does not take over the loader.
// A test run bundles it once (tests/tools/bundle-threads.ts): loading the sources takes a thread a second of processor time.
const bundled = process.env['SLACKWATER_TEST_THREADS'];
if (bundled === undefined) {
  const { register } = await import('tsx/esm/api');
  register();
  await import('./publisher-worker.ts');
} else await import(`${bundled}/publisher-worker.js`);
