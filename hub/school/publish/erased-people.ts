// Whom a hub of a school is to erase and whom it has: heard from the school or done here first, kept as hashes in a small
// file of the data folder, so that nobody comes back with recordings that are put back from a backup.

import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import * as z from 'zod/mini';
import type { ErasedAnswer, ErasedByHub } from '../../../shared/school/questions.ts';
import type { Result } from '../../../src/result.ts';
import type { HubLog } from '../../base/log.ts';
import type { HubStore } from '../../base/ports/hub-store.ts';
import type { Refusal } from '../../base/refusal.ts';
import { replaceFileLater } from '../../base/replace-file.ts';
import { athleteHash, recordingHash } from '../erased-hash.ts';

const fileName = 'school-erased.json';
/** Of one message to the school. */
const mostToTell = 500;
const mostRecordingsToTell = 5_000;

const hash = z.string().check(z.regex(/^[0-9a-f]{64}$/));
const erasedSchema = z.object({
  athlete: hash,
  /** By a person at this hub: the school does not know it until it has answered. */
  isAskedHere: z.boolean(),
  /** Nothing of theirs is left, as far as was looked. */
  isGone: z.boolean(),
  isTold: z.boolean(),
  /** Recordings that go whole with them. */
  recordings: z.array(hash),
});
type Erased = z.infer<typeof erasedSchema>;
const fileSchema = z.object({ version: z.literal(1), after: z.int(), erased: z.array(erasedSchema) });

/** What the hub can do for it. */
export interface Eraser {
  /** Nobody is erased while a session runs. */
  readonly isBusy: () => boolean;
  readonly onRecord: () => Promise<ReadonlySet<string>>;
  readonly erase: (athleteId: string) => Promise<Result<true, Refusal>>;
  /** Tells of somebody whom a person at the hub erases, before it is done. */
  readonly beforeErasing: (prepare: (athleteId: string) => Promise<void>) => () => void;
}

export interface ErasedPeopleParts {
  readonly dataFolder: string;
  readonly hub: string;
  readonly store: Pick<HubStore, 'listSessions' | 'listBinned' | 'readTold'>;
  readonly eraser: Eraser;
  readonly log: HubLog;
  /** Somebody was erased here: the school is to hear of it. */
  readonly changed: () => void;
}

/** How things stand: what the school is to be told, and of whom nothing may be sent, since they are still here. */
export interface ErasingState {
  readonly toTell: ErasedByHub;
  readonly heldAthleteIds: readonly string[];
}

export class ErasedPeople {
  readonly #parts: ErasedPeopleParts;
  readonly #path: string;
  readonly #erased = new Map<string, Erased>();
  #after = 0;
  #held: readonly string[] = [];
  /** It was looked whether anybody is here who was erased. */
  #isLooked = false;
  /** Somebody is to be erased who was not looked for yet. */
  #isNew = false;
  readonly #stopHearing: () => void;
  /** One after the other: the file is replaced as a whole. */
  #turn: Promise<unknown> = Promise.resolve();
  #saving: Promise<unknown> = Promise.resolve();

  constructor(parts: ErasedPeopleParts) {
    this.#parts = parts;
    this.#path = join(parts.dataFolder, fileName);
    this.#load();
    this.#stopHearing = parts.eraser.beforeErasing((athleteId) => this.#erasing(athleteId));
  }

  close(): void {
    this.#stopHearing();
  }

  /** Erases whoever is to be and still is here, between sessions. `heard`: what the school answered. */
  settle(heard: ErasedAnswer | null): Promise<ErasingState> {
    return this.#inTurn(async () => {
      let isChanged = false;
      if (heard !== null) {
        for (const athlete of heard.athletes) if (!this.#erased.has(athlete)) this.#add(athlete, false);
        isChanged = heard.athletes.length > 0 || heard.upTo !== this.#after;
        this.#after = heard.upTo;
      }
      // Written before anything is erased: what is asked is not forgotten by a crash.
      if (isChanged) await this.#save();
      if (await this.#eraseThose()) await this.#save();
      return this.#state();
    });
  }

  /** The school has it. */
  told({ gone }: Pick<ErasedByHub, 'gone'>): Promise<void> {
    return this.#inTurn(async () => {
      for (const athlete of gone) {
        const one = this.#erased.get(athlete);
        if (one !== undefined) this.#erased.set(athlete, { ...one, isTold: true, recordings: [] });
      }
      if (gone.length > 0) await this.#save();
    });
  }

  #inTurn<Value>(work: () => Promise<Value>): Promise<Value> {
    const done = this.#turn.then(work);
    this.#turn = done.catch(() => undefined);
    return done;
  }

  #add(athlete: string, isAskedHere: boolean, recordings: readonly string[] = []): void {
    this.#isNew = true;
    this.#erased.set(athlete, {
      athlete,
      isAskedHere,
      isGone: false,
      isTold: false,
      recordings: [...recordings],
    });
  }

  /** Answers whether anything has changed that is kept. */
  async #eraseThose(): Promise<boolean> {
    const { eraser, hub, log } = this.#parts;
    // Who was erased comes back with a backup alone, and then the hub begins anew.
    const isSettled = this.#isLooked && [...this.#erased.values()].every(({ isGone }) => isGone);
    if (isSettled || this.#erased.size === 0) return false;
    // It stays as it is until the session is over.
    if (eraser.isBusy() && this.#held.length > 0 && !this.#isNew) return false;
    this.#isLooked = true;
    this.#isNew = false;
    const here = new Map(
      [...(await eraser.onRecord())].map((athleteId) => [athleteHash(hub, athleteId), athleteId]),
    );
    const held: string[] = [];
    let isChanged = false;
    for (const one of this.#erased.values()) {
      const athleteId = here.get(one.athlete);
      if (athleteId !== undefined) {
        const recordings = await this.#ownRecordings(athleteId);
        const known = { ...one, isGone: false, recordings };
        this.#erased.set(one.athlete, known);
        await this.#save();
        const erased = eraser.isBusy() ? undefined : await eraser.erase(athleteId);
        if (erased?.ok !== true) {
          if (erased !== undefined) log.warn(`notErased: ${erased.reason.code}`);
          held.push(athleteId);
          continue;
        }
        this.#erased.set(one.athlete, { ...known, isGone: true, isTold: false });
        isChanged = true;
      } else if (!one.isGone) {
        this.#erased.set(one.athlete, { ...one, isGone: true });
        isChanged = true;
      }
    }
    this.#held = held;
    return isChanged;
  }

  #state(): ErasingState {
    const untold = [...this.#erased.values()].filter(({ isGone, isTold }) => isGone && !isTold);
    const told: Erased[] = [];
    let recordings = 0;
    for (const one of untold) {
      recordings += one.recordings.length;
      if (told.length >= mostToTell || (told.length > 0 && recordings > mostRecordingsToTell)) break;
      told.push(one);
    }
    return {
      heldAthleteIds: this.#held,
      toTell: {
        askedHere: told.filter(({ isAskedHere }) => isAskedHere).map(({ athlete }) => athlete),
        gone: told.map(({ athlete }) => athlete),
        recordings: told.flatMap((each) => each.recordings).slice(0, mostRecordingsToTell),
        after: this.#after,
      },
    };
  }

  /** By a person at this hub, or by `settle`, which knows of it. */
  async #erasing(athleteId: string): Promise<void> {
    const athlete = athleteHash(this.#parts.hub, athleteId);
    const known = this.#erased.get(athlete);
    if (known !== undefined && !known.isGone) return;
    this.#add(athlete, true, await this.#ownRecordings(athleteId));
    await this.#save();
    this.#parts.changed();
  }

  async #ownRecordings(athleteId: string): Promise<string[]> {
    const { store, hub } = this.#parts;
    const ids = new Set(
      [...(await store.listSessions()), ...(await store.listBinned())]
        .filter(({ session }) => session.athleteIds.includes(athleteId))
        .map(({ session }) => session.sessionId),
    );
    const own: string[] = [];
    for (const sessionId of ids) {
      const told = await store.readTold?.(sessionId);
      if (told?.athleteIds.every((each) => each === athleteId)) own.push(recordingHash(hub, sessionId));
    }
    return own;
  }

  #load(): void {
    if (!existsSync(this.#path)) return;
    try {
      const { after, erased } = z.parse(fileSchema, JSON.parse(readFileSync(this.#path, 'utf8')));
      this.#after = after;
      for (const one of erased) this.#erased.set(one.athlete, one);
    } catch (error) {
      // Heard again from the school, all of it.
      this.#parts.log.error(`unreadable: ${fileName}`, error);
    }
  }

  #save(): Promise<void> {
    const saved = this.#saving.then(() => {
      const erased = [...this.#erased.values()];
      const text = JSON.stringify({ version: 1, after: this.#after, erased }, null, 1);
      return replaceFileLater(this.#path, `${text}\n`);
    });
    this.#saving = saved.catch(() => undefined);
    return saved;
  }
}
