// Builds the library that makes a disk slow, full or failing under a process (disk-fault.c), and says how to start one with it.

import { execFileSync, spawnSync } from 'node:child_process';
import { mkdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

const source = fileURLToPath(new URL('./disk-fault.c', import.meta.url));
const library = fileURLToPath(new URL(`../../dist/tests/disk-fault-${process.pid}.so`, import.meta.url));
let isBuilt = false;

/** Where there is a compiler, on Linux: elsewhere the tests that need it are left out, and say so. */
export const canFaultDisk: boolean =
  process.platform === 'linux' && spawnSync('gcc', ['--version']).status === 0;

/** `syncs` made slow go by `control`; the rest as disk-fault.c says. */
export interface DiskFault {
  readonly folder: string;
  readonly at?: number;
  readonly act?: 'eio' | 'enospc' | 'erofs' | 'short' | 'kill';
  readonly lasts?: boolean;
  readonly log?: string;
  readonly control?: string;
}

/** The environment in which a process meets this fault. */
export function diskFaultEnvironment({ folder, at, act, lasts, log, control }: DiskFault) {
  if (!isBuilt) {
    mkdirSync(fileURLToPath(new URL('../../dist/tests', import.meta.url)), { recursive: true });
    execFileSync('gcc', ['-shared', '-fPIC', '-O1', '-o', library, source, '-ldl']);
    isBuilt = true;
  }
  return {
    LD_PRELOAD: library,
    DISK_FAULT_FOLDER: folder,
    ...(at !== undefined && { DISK_FAULT_AT: String(at) }),
    ...(act !== undefined && { DISK_FAULT_DO: act }),
    ...(lasts === true && { DISK_FAULT_LASTS: '1' }),
    ...(log !== undefined && { DISK_FAULT_LOG: log }),
    ...(control !== undefined && { DISK_FAULT_CONTROL: control }),
  };
}
