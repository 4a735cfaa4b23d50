// A module of the project as one file that runs by itself, so that a test which starts it often does not wait for a loader each time.

import { readFileSync } from 'node:fs';
import { basename, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

const root = fileURLToPath(new URL('../..', import.meta.url));

const { dependencies, optionalDependencies } = JSON.parse(
  readFileSync(join(root, 'package.json'), 'utf8'),
) as Record<'dependencies' | 'optionalDependencies', Record<string, string>>;
/** Zod goes into the file: it is many small ones, a third of what a process of the recorder takes to start. */
const external = Object.keys({ ...dependencies, ...optionalDependencies }).filter((name) => name !== 'zod');

const usual = {
  bundle: true,
  platform: 'node',
  format: 'esm',
  target: 'node20',
  external,
  logLevel: 'error',
} as const;

/** `entry`: from the repository's root; `name`: of the file under `dist/tests`. Answers with the file to run. */
export async function bundleModule(entry: string, name: string): Promise<string> {
  const outfile = join(root, 'dist', 'tests', name);
  await build({ ...usual, entryPoints: [join(root, entry)], outfile });
  return outfile;
}

/** Several, each a file of its own; `name`: of the folder under `dist/tests`, which is the answer. */
export async function bundleModules(entries: readonly string[], name: string): Promise<string> {
  const outdir = join(root, 'dist', 'tests', name);
  await build({
    ...usual,
    entryPoints: entries.map((entry) => ({ in: join(root, entry), out: basename(entry, '.ts') })),
    outdir,
  });
  return outdir;
}
