// Test kinds as projects: `unit` is fast and needs nothing; `browser` needs Chromium; `bluetooth` needs btvirt.
import { configDefaults, defineConfig } from 'vitest/config';
import { leftOutHere } from './tools/needed-programs.ts';

const root = new URL('..', import.meta.url).pathname;
const exclude = [...configDefaults.exclude, ...leftOutHere().flatMap(({ files }) => files)];

export default defineConfig({
  root,
  cacheDir: `${root}dist/.cache/vitest`,
  test: {
    // Tests that start processes wait more than they compute; with one worker on two cores they wait one after another.
    maxWorkers: 3,
    globalSetup: [
      `${root}tests/tools/own-temporary-folder.ts`,
      `${root}tests/tools/own-hub-processes.ts`,
      `${root}tests/tools/bundle-threads.ts`,
    ],
    // What a test waits for comes late on a loaded machine; the default of a second is a test of the machine.
    expect: { poll: { timeout: 30_000 } },
    coverage: {
      provider: 'v8',
      include: ['shared/**/*.ts', 'src/**/*.ts', 'hub/**/*.ts', 'web/**/*.{ts,tsx}'],
      // What runs in threads, child processes and the browser is not counted: its tests are of other kinds.
      exclude: ['**/*.d.ts', 'web/vite.config.ts', 'tests/**'],
      reporter: [[`${root}tests/tools/coverage-by-room.cjs`, {}], 'json-summary'],
      reportsDirectory: `${root}artefacts/coverage`,
      // The core is pure, so that what no test enters there is untested. Measured, rounded down.
      thresholds: { 'src/**': { statements: 97, branches: 92, functions: 98 } },
    },
    projects: [
      {
        extends: true,
        test: {
          name: 'unit',
          exclude,
          include: ['tests/{core,hub,web,contract}/**/*.test.{ts,tsx}'],
          // A worker loads each module once, not once a file: a hub's modules cost 2 to 3 s of processor time, those of the core half
          // a second, over 255 files. So a file leaves nothing behind: no fake timers, no environment, no mocked module.
          isolate: false,
          // Generous, because a loaded machine is no reason to fail: no test here measures time.
          testTimeout: 120_000,
          hookTimeout: 60_000,
          env: { TZ: 'UTC' },
        },
      },
      {
        extends: true,
        test: {
          name: 'browser',
          exclude,
          include: ['tests/browser/**/*.test.ts'],
          env: { TZ: 'UTC' },
          testTimeout: 300_000,
          hookTimeout: 60_000,
          // As of the unit tests: 2 s of processor time a file.
          isolate: false,
          // As long as a page is waited for (tests/support/chromium-page.ts).
          expect: { poll: { timeout: 90_000 } },
          // One keeps hub, browser and renderer busy at once: two beside each other on two cores.
          maxWorkers: 2,
        },
      },
      {
        extends: true,
        test: {
          name: 'bluetooth',
          exclude,
          include: ['tests/bluetooth/**/*.test.ts'],
          env: { TZ: 'UTC' },
          testTimeout: 150_000,
          hookTimeout: 60_000,
          fileParallelism: false,
        },
      },
    ],
  },
});
