// Where a program of ours that runs in a thread or a process of its own lies: beside the sources, or in the bundle.

import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

/** The path of the first of `relatives`, from the module at `from`, that is there; undefined when none is. */
export function findBuiltFile(from: string, relatives: readonly string[]): string | undefined {
  return relatives.map((relative) => fileURLToPath(new URL(relative, from))).find((path) => existsSync(path));
}
