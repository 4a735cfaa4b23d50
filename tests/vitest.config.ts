// Test kinds as projects: `unit` is fast and needs nothing; `browser` needs Chromium; `bluetooth` needs btvirt.
import { defineConfig } from 'vitest/config';

const root = new URL('..', import.meta.url).pathname;

export default defineConfig({
  root,
  cacheDir: `${root}dist/.cache/vitest`,
  test: {
    projects: [
      {
        extends: true,
        test: {
          name: 'unit',
          include: ['tests/{core,hub,web,contract}/**/*.test.{ts,tsx}'],
          // Generous, because a loaded machine is no reason to fail: no test here measures time.
          testTimeout: 60_000,
          hookTimeout: 60_000,
          env: { TZ: 'UTC' },
        },
      },
      {
        extends: true,
        test: {
          name: 'browser',
          include: ['tests/browser/**/*.test.ts'],
          env: { TZ: 'UTC' },
          testTimeout: 180_000,
          hookTimeout: 60_000,
          fileParallelism: false,
        },
      },
      {
        extends: true,
        test: {
          name: 'bluetooth',
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
