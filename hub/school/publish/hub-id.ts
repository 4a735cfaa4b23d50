// Who a hub is, whatever it is called: made once and kept in its data folder, so that a school can tell two of one name apart.

import { randomBytes } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { hubIdSchema } from '../../../shared/school/subjects.ts';

/** A damaged one is made anew: the school then asks whether it is the same hub. */
export function hubIdIn(dataFolder: string): string {
  const path = join(dataFolder, 'school-hub-id');
  const known = hubIdSchema.safeParse(read(path));
  if (known.success) return known.data;
  const made = randomBytes(12).toString('hex');
  writeFileSync(path, `${made}\n`, { mode: 0o600 });
  return made;
}

function read(path: string): string | undefined {
  try {
    return readFileSync(path, 'utf8').trim();
  } catch {
    return undefined;
  }
}
