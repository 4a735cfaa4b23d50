// The peers' programs as JavaScript in dist/bench, made as `npm run build` makes the hub: what runs is what is delivered, without a
// compiler between.

import { join } from 'node:path';
import { build } from 'esbuild';

const root = new URL('../../..', import.meta.url).pathname;
export const bundleFolder = join(root, 'dist', 'bench');

export async function bundlePeers(): Promise<void> {
  const ours = ['hub-peer', 'relay-peer', 'page-clients', 'broker-publisher'];
  await build({
    entryPoints: [
      ...ours.map((name) => join(root, 'tests/bench/peers', `${name}.ts`)),
      join(root, 'hub/recorder/thread/recorder-worker.ts'),
    ],
    entryNames: '[name]',
    outdir: bundleFolder,
    bundle: true,
    splitting: true,
    platform: 'node',
    format: 'esm',
    target: 'node20',
    packages: 'external',
    sourcemap: true,
    logLevel: 'warning',
  });
}
