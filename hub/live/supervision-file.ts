// Keeps alarms that wait for a person across a restart: one private JSON file in the data directory.

import { existsSync, mkdirSync, readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import * as z from 'zod/mini';
import { supervisionAlarmSchema } from '../../shared/views.ts';
import { replaceFile } from '../base/replace-file.ts';
import type { SupervisionMemory } from './supervision.ts';

const fileSchema = z.object({ version: z.literal(1), alarms: z.array(supervisionAlarmSchema) });

/** A file that cannot be read is as none: an interrupted session is found in the recorder, not here. */
export function supervisionFileIn(dataDirectory: string): SupervisionMemory {
  const path = join(dataDirectory, 'standing-alarms.json');
  const attemptsPath = join(dataDirectory, 'resume-attempts');
  const decidedPath = join(dataDirectory, 'decided-session');
  return {
    load() {
      if (!existsSync(path)) return [];
      try {
        return z.parse(fileSchema, JSON.parse(readFileSync(path, 'utf8'))).alarms;
      } catch {
        // Damaged or of another version; replaced with the next change.
        return [];
      }
    },
    save(alarms) {
      mkdirSync(dataDirectory, { recursive: true, mode: 0o700 });
      replaceFile(path, `${JSON.stringify({ version: 1, alarms }, null, 1)}\n`);
    },
    decidedSessionId() {
      try {
        return readFileSync(decidedPath, 'utf8').trim() || null;
      } catch {
        // None yet, or the file is gone: then the recorder alone says what is over.
        return null;
      }
    },
    attemptsAt(sessionId) {
      try {
        const [id, count] = readFileSync(attemptsPath, 'utf8').trim().split(' ');
        return id === sessionId ? Number(count) || 0 : 0;
      } catch {
        // None was begun.
        return 0;
      }
    },
    noteAttempt(sessionId) {
      mkdirSync(dataDirectory, { recursive: true, mode: 0o700 });
      if (sessionId === null) rmSync(attemptsPath, { force: true });
      else replaceFile(attemptsPath, `${sessionId} ${this.attemptsAt(sessionId) + 1}\n`);
    },
    noteDecided(sessionId) {
      mkdirSync(dataDirectory, { recursive: true, mode: 0o700 });
      replaceFile(decidedPath, `${sessionId}\n`);
    },
  };
}
