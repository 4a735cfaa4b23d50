// What was being watched, kept over a reload and for the next page of this device: one that comes up while the hub is gone must
// still know that a session was on.

export interface WatchedSession {
  readonly sessionId: string;
  readonly title: string;
  readonly athletes: readonly { readonly athleteId: string; readonly name: string }[];
  /** The last that was heard of it, by the wall clock. */
  readonly seenWallAtMs: number;
}

/** As a page that comes up finds it. */
export interface RememberedSession extends WatchedSession {
  /** Watched by this very tab before it was loaded anew; else by some page on this device, which may have been closed since. */
  readonly byThisTab: boolean;
}

export interface WatchedSessionMemory {
  load(): RememberedSession | null;
  save(watched: WatchedSession | null): void;
}

type TextStorage = Pick<Storage, 'getItem' | 'setItem' | 'removeItem'>;

const key = 'slackwater.watched';
/** What another page of this device watched is taken to be still on for so long. Of our own choosing: no session is longer. */
const deviceRemembersMs = 6 * 3_600_000;

/**
 * `tab` ends with the tab, as the watching does. `device` stays: an app that is opened anew while the hub is gone must know
 * that somebody is in a session.
 */
export function watchedSessionIn(
  tab: TextStorage,
  device: TextStorage,
  wallNowMs: () => number,
): WatchedSessionMemory {
  return {
    load() {
      const ofTab = read(tab);
      if (ofTab !== null) return { ...ofTab, byThisTab: true };
      const ofDevice = read(device);
      if (ofDevice === null || Math.abs(wallNowMs() - ofDevice.seenWallAtMs) > deviceRemembersMs) return null;
      return { ...ofDevice, byThisTab: false };
    },
    save(watched) {
      write(tab, watched);
      write(device, watched);
    },
  };
}

function read(storage: TextStorage): WatchedSession | null {
  try {
    const found = JSON.parse(storage.getItem(key) ?? 'null') as Partial<WatchedSession> | null;
    if (typeof found?.sessionId !== 'string' || !Array.isArray(found.athletes)) return null;
    const { sessionId, title = '', athletes, seenWallAtMs = 0 } = found;
    return { sessionId, title, athletes, seenWallAtMs };
  } catch {
    // Forbidden or damaged storage: nothing is known of before.
    return null;
  }
}

function write(storage: TextStorage, watched: WatchedSession | null): void {
  try {
    if (watched === null) storage.removeItem(key);
    else storage.setItem(key, JSON.stringify(watched));
  } catch {
    // Forbidden storage: a reload will know nothing of it.
  }
}
