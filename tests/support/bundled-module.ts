// A module of the project as one file that runs by itself, so that a test which starts it often does not wait for a loader each time.

import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

const root = fileURLToPath(new URL('../..', import.meta.url));

/** `entry`: from the repository's root; `name`: of the file under `dist/tests`. Answers with the file to run. */
export async function bundleModule(entry: string, name: string): Promise<string> {
  const outfile = join(root, 'dist', 'tests', name);
  await build({
    entryPoints: [join(root, entry)],
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
