// Builds the dashboard into dist/web: one page, one script, one style sheet, no outside resource.
import { defineConfig } from 'vite';

const here = new URL('.', import.meta.url).pathname;

export default defineConfig({
  root: here,
  base: '/',
  cacheDir: `${here}../dist/.cache/vite`,
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  build: {
    outDir: `${here}../dist/web`,
    emptyOutDir: true,
    target: 'es2022',
    // No inlined data: or polyfill script, so that a strict content security policy holds.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    chunkSizeWarningLimit: 400,
  },
  // `npx vite --config web/vite.config.ts` beside a running hub.
  server: { proxy: { '/api': 'http://127.0.0.1:7410', '/ws': { target: 'ws://127.0.0.1:7410', ws: true } } },
});
