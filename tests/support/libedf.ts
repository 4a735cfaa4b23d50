// Builds the small programs around libedf (Debian package libedf-dev), which reads and writes EDF+ independently of us.

import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

export const hasLibedf: boolean =
  existsSync('/usr/include/edflib.h') && spawnSync('gcc', ['--version']).status === 0;

if (!hasLibedf)
  console.warn(
    '\n*** NOT CHECKED: EDF+ files against an independent reader. Install libedf-dev and gcc. ***\n',
  );

const built = new Map<string, string>();

function program(name: 'edf-reader' | 'edf-writer'): string {
  let path = built.get(name);
  if (path === undefined) {
    path = join(mkdtempSync(join(tmpdir(), 'slackwater-libedf-')), name);
    const source = fileURLToPath(new URL(`./${name}.c`, import.meta.url));
    execFileSync('gcc', ['-O1', '-D_FILE_OFFSET_BITS=64', source, '-o', path, '-ledf', '-lm']);
    built.set(name, path);
  }
  return path;
}

export interface LibedfFile {
  readonly error?: number;
  readonly filetype: number;
  readonly start: readonly number[];
  /** 100 ns, as all of libedf's times. */
  readonly subsecond: number;
  readonly duration: number;
  readonly patient: string;
  readonly equipment: string;
  readonly more: string;
  readonly signals: readonly { label: string; unit: string; perRecord: number; values: readonly number[] }[];
  readonly annotations: readonly { onset: number; duration: number; text: string }[];
}

/** What libedf makes of a file; `error` is its code where it refuses it. */
export function readWithLibedf(path: string): LibedfFile {
  const { stdout } = spawnSync(program('edf-reader'), [path], { encoding: 'utf8', maxBuffer: 2 ** 28 });
  return JSON.parse(stdout) as LibedfFile;
}

export function writeWithLibedf(path: string): void {
  execFileSync(program('edf-writer'), [path]);
}
