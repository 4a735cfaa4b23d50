// The version of the program, read from its package.

import { existsSync, readFileSync } from 'node:fs';

/** Two folders up from the sources and from the bundle; chunks of the bundle may lie deeper. */
const packageFile = ['../../package.json', '../../../package.json']
  .map((relative) => new URL(relative, import.meta.url))
  .find((file) => existsSync(file));

export const hubVersion: string =
  packageFile === undefined
    ? 'unknown'
    : (JSON.parse(readFileSync(packageFile, 'utf8')) as { version: string }).version;
