// Builds what the rig runs outside the test: the radio process as it ships (bundled), the virtual sensors, and the
// shim for the controller emulator. Done once; results are kept under dist/ and rebuilt when a source is newer.

import { execFileSync } from 'node:child_process';
import { existsSync, mkdirSync, statSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

const here = (relative: string): string => fileURLToPath(new URL(relative, import.meta.url));

export interface BuiltRig {
  readonly radioEntry: string;
  readonly sensorEntry: string;
  readonly hubEntry: string;
  readonly shim: string;
  readonly serialBridge: string;
}

let built: Promise<BuiltRig> | null = null;

/** Throws with what is missing when the emulator or a compiler is not installed. */
export function buildRig(): Promise<BuiltRig> {
  built ??= buildOnce();
  return built;
}

async function buildOnce(): Promise<BuiltRig> {
  const out = here('../../../dist/bluetooth-rig');
  mkdirSync(out, { recursive: true });
  for (const [program, from] of [
    ['btvirt', 'the Debian package bluez-test-tools'],
    ['gcc', 'a C compiler'],
  ] as const) {
    try {
      execFileSync('sh', ['-c', `command -v ${program}`]);
    } catch {
      throw new Error(`the Bluetooth rig needs ${program}: install ${from}`);
    }
  }
  const compile = (output: string, source: string, ...flags: string[]): string => {
    const [to, from] = [`${out}/${output}`, here(source)];
    if (!existsSync(to) || statSync(to).mtimeMs < statSync(from).mtimeMs) {
      execFileSync('gcc', ['-O1', '-o', to, from, ...flags]);
    }
    return to;
  };
  const shim = compile('btvirt-shim.so', './btvirt-shim.c', '-shared', '-fPIC', '-ldl');
  const serialBridge = compile('serial-bridge', './serial-bridge.c');
  await build({
    entryPoints: {
      'radio-child': here('../../../hub/sensors/bluetooth/radio-child.ts'),
      'sensor-process': here('./sensor-process.ts'),
      'hub-process': here('./hub-process.ts'),
    },
    outdir: out,
    bundle: true,
    platform: 'node',
    format: 'esm',
    target: 'node20',
    packages: 'external',
    logLevel: 'error',
  });
  return {
    radioEntry: `${out}/radio-child.js`,
    sensorEntry: `${out}/sensor-process.js`,
    hubEntry: `${out}/hub-process.js`,
    shim,
    serialBridge,
  };
}
