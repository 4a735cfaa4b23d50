// The sensor profiles of the data directory: every `*.json` under `profiles/`. A bad one is told and left out.

import { readdir, readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { type Said, said } from '../../../shared/said.ts';
import { parseProfile, profileProblemSaid } from '../../../src/profiles/profile-file.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';

export interface LoadedProfiles {
  readonly profiles: readonly SensorProfile[];
  /** For each thing wrong, with file, line and column. */
  readonly problems: readonly Said[];
}

/** A missing folder means none. Never rejects for what is in the folder. */
export async function loadProfiles(folder: string): Promise<LoadedProfiles> {
  let names: string[];
  try {
    names = (await readdir(folder)).filter((name) => name.endsWith('.json')).sort();
  } catch {
    return { profiles: [], problems: [] };
  }
  const profiles: SensorProfile[] = [];
  const problems: Said[] = [];
  for (const name of names) {
    const path = join(folder, name);
    try {
      const parsed = parseProfile(await readFile(path, 'utf8'));
      if (parsed.ok) profiles.push(parsed.value);
      else problems.push(...parsed.reason.map((problem) => profileProblemSaid(path, problem)));
    } catch (error) {
      const reason = error instanceof Error ? error.message : String(error);
      problems.push(said('profile.unreadable', { path, reason }));
    }
  }
  return { profiles, problems };
}
