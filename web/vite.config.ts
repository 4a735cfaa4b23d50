// Builds the dashboard into dist/web: one page, one script, one style sheet, no outside resource, and the service worker
// that keeps them on the device.
import { createHash } from 'node:crypto';
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { defineConfig, type Plugin } from 'vite';
import { chapterNames, type HandbookLanguage, handbookLanguages } from './handbook/chapters.ts';
import { compileChapter } from './handbook/compile-chapter.ts';
import { handbookFacts } from './handbook/handbook-facts.ts';
import { de } from './i18n/de.ts';
import { en } from './i18n/en.ts';

const here = new URL('.', import.meta.url).pathname;
const outDir = `${here}../dist/web`;
const workerName = 'service-worker';

export default defineConfig({
  root: here,
  base: '/',
  cacheDir: `${here}../dist/.cache/vite`,
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  plugins: [compileHandbook(), putStylesFirst(), fillServiceWorker()],
  build: {
    outDir,
    emptyOutDir: true,
    target: 'es2022',
    // No inlined data: or polyfill script, so that a strict content security policy holds.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    chunkSizeWarningLimit: 450,
    rollupOptions: {
      input: { index: `${here}index.html`, [workerName]: `${here}offline/${workerName}.ts` },
      output: {
        // A file of their own, for `putStylesFirst`.
        codeSplitting: {
          groups: [
            { name: 'styles', test: /\/web\/styles\// },
            {
              name: (id, modules) => (isOfFirstPage(id, modules) ? 'shared' : null),
              debugName: 'shared',
              minShareCount: 2,
            },
          ],
        },
        // At the root, for a worker rules over its own folder only; under one name, for browsers ask for it again by that.
        entryFileNames: ({ name }) => (name === workerName ? '[name].js' : 'assets/[name]-[hash].js'),
      },
    },
  },
  // `npx vite --config web/vite.config.ts` beside a running hub.
  server: { proxy: { '/api': 'http://127.0.0.1:7410', '/ws': { target: 'ws://127.0.0.1:7410', ws: true } } },
});

interface Modules {
  getModuleInfo(id: string): { readonly importedIds: readonly string[] } | null;
}
let ofFirstPage: ReadonlySet<string> | undefined;

/**
 * Whether the page cannot begin without the module. What it shares with views would be 40 files of their own, one a set of views,
 * each asked for by itself. Styles stay as they are, for their order counts.
 */
function isOfFirstPage(id: string, modules: Modules): boolean {
  if (!/\.(ts|tsx|js|mjs)$/.test(id)) return false;
  if (ofFirstPage === undefined) {
    const found = new Set([`${here}main.tsx`]);
    // A set that is walked through while it grows.
    for (const each of found) for (const by of modules.getModuleInfo(each)?.importedIds ?? []) found.add(by);
    ofFirstPage = found;
  }
  return ofFirstPage.has(id);
}

/** `main.tsx` brings the page's own styles first, but files that views share would be linked before them, which refine them. */
function putStylesFirst(): Plugin {
  const anyLink = /\s*<link rel="stylesheet"/;
  const ownLink = /\s*<link rel="stylesheet"[^>]*\/styles-[^>]*>/;
  return {
    name: 'put-styles-first',
    apply: 'build',
    transformIndexHtml: {
      order: 'post',
      handler(html) {
        const own = ownLink.exec(html)?.[0];
        if (own === undefined) throw new Error('the page links no file of its own styles');
        return html.replace(own, '').replace(anyLink, `${own}$&`);
      },
    },
  };
}

/** Each language of the handbook is one module, made of its Markdown (`handbook/load-handbook.ts`). */
function compileHandbook(): Plugin {
  const prefix = 'virtual:handbook/';
  const languageOf = (id: string): HandbookLanguage | undefined =>
    handbookLanguages.find((language) => id === prefix + language);
  return {
    name: 'compile-handbook',
    resolveId: (id) => (languageOf(id) === undefined ? undefined : `\0${id}`),
    load(id) {
      const language = languageOf(id.slice(1));
      if (language === undefined) return undefined;
      const facts = handbookFacts(language, language === 'de' ? de : en);
      const chapters = chapterNames.map((name) => {
        const path = `${here}handbook/${language}/${name}.md`;
        this.addWatchFile(path);
        return compileChapter(name, language, readFileSync(path, 'utf8'), facts);
      });
      return `export const chapters = ${JSON.stringify(chapters)};`;
    },
  };
}

/** Tells the worker which files make up the page. Its own bytes change with any of them, by which browsers notice. */
function fillServiceWorker(): Plugin {
  return {
    name: 'fill-service-worker',
    apply: 'build',
    // Once all is written: chunks that hold nothing but styles are dropped late.
    writeBundle(_, bundle) {
      const worker = bundle[`${workerName}.js`];
      if (worker?.type !== 'chunk') throw new Error('the service worker was not built');
      if (worker.imports.length > 0) throw new Error('the service worker must stand in one file');
      const files = readdirSync(outDir, { recursive: true, encoding: 'utf8' })
        .filter((name) => name.startsWith('assets/') || /^(mark|alarm)\.svg$|^app-\d+\.png$/.test(name))
        .sort();
      const hash = createHash('sha256');
      for (const name of ['index.html', ...files]) hash.update(name).update(readFileSync(join(outDir, name)));
      const shellName = JSON.stringify(`page-${hash.digest('hex').slice(0, 16)}`);
      const shellFiles = JSON.stringify(['/', ...files.map((name) => `/${name}`)]);
      const told = `const shellName=${shellName},shellFiles=${shellFiles};\n`;
      writeFileSync(join(outDir, worker.fileName), told + worker.code);
    },
  };
}
