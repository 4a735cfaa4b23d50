// Gives a run of tests a temporary folder of its own and removes it afterwards: a worker that the runner stops, and what a killed
// hub or database leaves, cleans up nothing (a run left some 3 GB of databases in /tmp).

import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';

const variable = 'TMPDIR';

const begins = 'tests-';

export default function setUp(): () => void {
  const before = process.env[variable];
  // Asked once for the run and once for each project of it.
  if (before !== undefined && basename(before).startsWith(begins)) return () => undefined;
  // Short: the path of a socket in it may have 108 bytes (unix(7)).
  const folder = mkdtempSync(join(tmpdir(), begins));
  // Databases run as a user without rights where the tests run as root, and have to come through.
  chmodSync(folder, 0o711);
  process.env[variable] = folder;
  return () => {
    if (before === undefined) delete process.env[variable];
    else process.env[variable] = before;
    rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
  };
}
