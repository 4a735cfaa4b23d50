// Locked backups in a folder, by the clock: made when the newest is old enough, the newest so many kept, nothing else in the
// folder touched. One that cannot be made is told, and tried again.

import { existsSync, mkdtempSync, readdirSync, renameSync, rmSync, statSync } from 'node:fs';
import { join } from 'node:path';
import type { Said } from '../../../shared/said.ts';
import { faultSaid } from '../../base/hub-error.ts';
import type { HubLog } from '../../base/log.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { HubStore } from '../../base/ports/hub-store.ts';
import { backupFileName, writeBackupFile } from './backup-file.ts';
import { lockFile } from './locked-file.ts';

/** How often it is looked whether one is due. */
const lookEveryMs = 600_000;
const namePattern = /^slackwater-\d{8}-\d{4}\.backup\.locked$/;
const scratchPrefix = '.slackwater-backup-';

export interface BackupSchedule {
  readonly folder: string;
  readonly everyHours: number;
  /** The newest so many stay. */
  readonly keep: number;
  readonly passphrase: string;
}

export interface KeptBackup {
  readonly name: string;
  readonly madeWallAtMs: number;
  readonly bytes: number;
}

/** The newest first; none where the folder cannot be read. */
export function keptBackups(folder: string): readonly KeptBackup[] {
  try {
    return readdirSync(folder)
      .filter((name) => namePattern.test(name))
      .map((name) => {
        const { mtimeMs, size } = statSync(join(folder, name));
        return { name, madeWallAtMs: mtimeMs, bytes: size };
      })
      .toSorted((one, other) => (one.name < other.name ? 1 : -1));
  } catch {
    return [];
  }
}

export interface ScheduledBackupsParts {
  readonly schedule: BackupSchedule;
  readonly store: Pick<HubStore, 'writeDatabaseCopy'>;
  readonly clock: Clock;
  readonly log: HubLog;
  /** While a session is recorded one that is due waits, for as long again as lies between two. */
  readonly isRecording: () => boolean;
}

export class ScheduledBackups {
  readonly #parts: ScheduledBackupsParts;
  #underWay: Promise<void> | undefined;
  #problem: Said | null = null;
  #stop: () => void = () => undefined;

  constructor(parts: ScheduledBackupsParts) {
    this.#parts = parts;
  }

  get schedule(): Omit<BackupSchedule, 'passphrase'> {
    const { passphrase: _secret, ...shown } = this.#parts.schedule;
    return shown;
  }

  get kept(): readonly KeptBackup[] {
    return keptBackups(this.#parts.schedule.folder);
  }

  /** Why the last attempt failed; null when it did not. */
  get problem(): Said | null {
    return this.#problem;
  }

  open(): void {
    const { clock, schedule } = this.#parts;
    try {
      // What a hub left behind that was stopped meanwhile.
      for (const name of readdirSync(schedule.folder))
        if (name.startsWith(scratchPrefix))
          rmSync(join(schedule.folder, name), { recursive: true, force: true });
    } catch {
      // The first attempt says what is wrong with the folder.
    }
    void this.lookNow();
    this.#stop = clock.every(lookEveryMs, () => void this.lookNow());
  }

  async close(): Promise<void> {
    this.#stop();
    await this.#underWay;
  }

  /** Makes one if it is due. */
  lookNow(): Promise<void> {
    const { clock, schedule, isRecording } = this.#parts;
    const newest = this.kept[0];
    const ageMs = newest === undefined ? Number.POSITIVE_INFINITY : clock.wallNowMs() - newest.madeWallAtMs;
    const everyMs = schedule.everyHours * 3_600_000;
    // The first is due at once, but nobody's session has to share the disk with it.
    const isDue =
      ageMs >= (isRecording() ? 2 * everyMs : everyMs) && !(newest === undefined && isRecording());
    return isDue ? this.makeNow() : Promise.resolve();
  }

  makeNow(): Promise<void> {
    this.#underWay ??= this.#make().finally(() => {
      this.#underWay = undefined;
    });
    return this.#underWay;
  }

  async #make(): Promise<void> {
    const { schedule, store, clock, log } = this.#parts;
    const { folder, keep, passphrase } = schedule;
    let scratch: string | undefined;
    try {
      scratch = mkdtempSync(join(folder, scratchPrefix));
      const plain = join(scratch, 'backup');
      const locked = join(scratch, 'locked');
      await writeBackupFile(store, plain);
      await lockFile(plain, locked, passphrase);
      const name = `${backupFileName(clock.wallNowMs())}.locked`;
      if (!existsSync(join(folder, name))) renameSync(locked, join(folder, name));
      this.#problem = null;
      for (const old of this.kept.slice(keep)) rmSync(join(folder, old.name), { force: true });
    } catch (error) {
      this.#problem = faultSaid(error);
      log.error('backup failed', error);
    } finally {
      if (scratch !== undefined) rmSync(scratch, { recursive: true, force: true });
    }
  }
}
