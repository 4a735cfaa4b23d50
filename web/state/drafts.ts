// What a person has written and not saved, kept in this browser at each change, so that a tap elsewhere, a reload or a
// closed tab loses nothing. A draft is of the form that its reader asks for, or it is as not there.

import * as z from 'zod/mini';

const storageKey = 'slackwater.drafts';
/** Older ones, and more than that, are let go: the newest are those that somebody will look for. */
const keptForMs = 30 * 86_400_000;
const mostDrafts = 40;

const draftSchema = z.object({
  key: z.string(),
  /** Whom it is about; null for nobody. */
  athleteId: z.nullable(z.string()),
  writtenWallAtMs: z.number(),
  body: z.unknown(),
});
type Draft = z.infer<typeof draftSchema>;

export interface DraftStorage {
  getItem(key: string): string | null;
  setItem(key: string, value: string): void;
}

export interface KeptDraft<Body> {
  readonly writtenWallAtMs: number;
  readonly body: Body;
}

export class Drafts {
  readonly #storage: DraftStorage;
  readonly #wallNowMs: () => number;

  constructor(storage: DraftStorage, wallNowMs: () => number) {
    this.#storage = storage;
    this.#wallNowMs = wallNowMs;
  }

  keep(key: string, athleteId: string | null, body: unknown): void {
    const draft = { key, athleteId, writtenWallAtMs: this.#wallNowMs(), body };
    this.#write([draft, ...this.#all().filter((each) => each.key !== key)]);
  }

  read<Schema extends z.ZodMiniType>(key: string, schema: Schema): KeptDraft<z.output<Schema>> | null {
    const found = this.#all().find((each) => each.key === key);
    if (found === undefined) return null;
    const parsed = z.safeParse(schema, found.body);
    return parsed.success ? { writtenWallAtMs: found.writtenWallAtMs, body: parsed.data } : null;
  }

  forget(key: string): void {
    const all = this.#all();
    if (all.some((each) => each.key === key)) this.#write(all.filter((each) => each.key !== key));
  }

  /** Nothing of an erased athlete stays in this browser. */
  forgetOf(athleteId: string): void {
    this.#write(this.#all().filter((each) => each.athleteId !== athleteId));
  }

  #all(): Draft[] {
    try {
      const parsed = z.safeParse(z.array(draftSchema), JSON.parse(this.#storage.getItem(storageKey) ?? '[]'));
      const oldestMs = this.#wallNowMs() - keptForMs;
      return parsed.success ? parsed.data.filter(({ writtenWallAtMs }) => writtenWallAtMs > oldestMs) : [];
    } catch {
      return [];
    }
  }

  #write(drafts: readonly Draft[]): void {
    try {
      this.#storage.setItem(storageKey, JSON.stringify(drafts.slice(0, mostDrafts)));
    } catch {
      // Storage full or forbidden: then what was written holds until the page is left.
    }
  }
}
