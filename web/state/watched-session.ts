// What this tab was watching, kept over a reload: a page that comes up while the hub is gone must still know that a session
// was on.

export interface WatchedSession {
  readonly sessionId: string;
  readonly title: string;
  readonly athletes: readonly { readonly athleteId: string; readonly name: string }[];
  /** The last that was heard of it, by the wall clock. */
  readonly seenWallAtMs: number;
}

export interface WatchedSessionMemory {
  load(): WatchedSession | null;
  save(watched: WatchedSession | null): void;
}

const key = 'slackwater.watched';

/** In the tab's own storage: it ends with the tab, as the watching does. */
export function watchedSessionIn(
  storage: Pick<Storage, 'getItem' | 'setItem' | 'removeItem'>,
): WatchedSessionMemory {
  return {
    load() {
      try {
        const found = JSON.parse(storage.getItem(key) ?? 'null') as Partial<WatchedSession> | null;
        if (typeof found?.sessionId !== 'string' || !Array.isArray(found.athletes)) return null;
        const { sessionId, title = '', athletes, seenWallAtMs = 0 } = found;
        return { sessionId, title, athletes, seenWallAtMs };
      } catch {
        // Forbidden or damaged storage: nothing is known of before.
        return null;
      }
    },
    save(watched) {
      try {
        if (watched === null) storage.removeItem(key);
        else storage.setItem(key, JSON.stringify(watched));
      } catch {
        // Forbidden storage: a reload will know nothing of it.
      }
    },
  };
}
