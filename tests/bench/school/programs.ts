// What the benches of the school run in processes of their own, bundled apart from the build, which may be made anew meanwhile.

import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

const root = fileURLToPath(new URL('../../..', import.meta.url));

export interface BenchPrograms {
  /** Of the program itself; `mainCommand` runs it. */
  readonly main: string;
  readonly hub: string;
  readonly manyHubs: string;
  readonly pages: string;
}

/** To be started with Node, before the program's own words. */
export const mainCommand = ({ main }: BenchPrograms): string[] => [
  '--input-type=module',
  '-e',
  `import { main } from ${JSON.stringify(main)}; await main(process.argv.slice(1));`,
  '--',
];

/** The program, and the hub of this bench, beside the threads of both, as the build has them. */
export async function bundlePrograms(outdir: string): Promise<BenchPrograms> {
  await build({
    absWorkingDir: root,
    entryPoints: {
      main: 'hub/main.ts',
      'partition-hub': 'tests/bench/school/partition-hub.ts',
      'many-hubs': 'tests/bench/school/many-hubs.ts',
      'school-pages': 'tests/bench/school/school-pages.ts',
      'partition-page': 'tests/bench/school/partition-page.ts',
      'recorder/thread/recorder-worker': 'hub/recorder/thread/recorder-worker.ts',
      'school/publish/publisher-worker': 'hub/school/publish/publisher-worker.ts',
      'recordings/review/review-worker': 'hub/recordings/review/review-worker.ts',
    },
    bundle: true,
    splitting: true,
    platform: 'node',
    format: 'esm',
    target: 'node20',
    outdir,
    packages: 'external',
    logLevel: 'error',
  });
  const built = (name: string): string => join(outdir, `${name}.js`);
  return {
    main: built('main'),
    hub: built('partition-hub'),
    manyHubs: built('many-hubs'),
    pages: built('school-pages'),
  };
}
