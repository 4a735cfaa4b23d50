// Replaces a small private file as a whole: after a crash either the old or the new content is there, never a part.

import { closeSync, fsyncSync, openSync, renameSync, rmSync, writeSync } from 'node:fs';
import { open, rename, rm } from 'node:fs/promises';

/** Writes `text` to `path`, readable by this user only (0600). Throws what the file system throws. */
export function replaceFile(path: string, text: string): void {
  const temporary = `${path}.new`;
  // A leftover of a crash might have other rights.
  rmSync(temporary, { force: true });
  const file = openSync(temporary, 'wx', 0o600);
  try {
    writeSync(file, text);
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
  renameSync(temporary, path);
}

/** The same beside the calling thread, which waits for no disk. Two at once of the same path must not be. */
export async function replaceFileLater(path: string, text: string): Promise<void> {
  const temporary = `${path}.new`;
  await rm(temporary, { force: true });
  const file = await open(temporary, 'wx', 0o600);
  try {
    await file.writeFile(text);
    await file.sync();
  } finally {
    await file.close();
  }
  await rename(temporary, path);
}
