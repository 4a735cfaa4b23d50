// Who leads sessions at this hub: one id for a name, as long as the hub remembers it, so that whoever is to be erased can be
// named to a school without saying who it was.

import { foldedName } from '../../shared/name-text.ts';
import { mostLeaders, type SessionLeader } from '../../shared/views.ts';

export class SessionLeaders {
  readonly #makeId: () => string;
  readonly #ids = new Map<string, string>();

  constructor(makeId: () => string) {
    this.#makeId = makeId;
  }

  /** From recordings. A name may have several ids, of before the list was read; any of them will do. */
  know(sessions: readonly { readonly leaders: readonly SessionLeader[] }[]): void {
    for (const { leaders } of sessions)
      for (const { leaderId, name } of leaders) this.#ids.set(foldedName(name), leaderId);
  }

  /** Each name once, in the order given. */
  named(names: readonly string[]): SessionLeader[] {
    const leaders = new Map<string, SessionLeader>();
    for (const text of names) {
      const name = text.trim();
      const key = foldedName(name);
      if (key === '' || leaders.has(key) || leaders.size >= mostLeaders) continue;
      const leaderId = this.#ids.get(key) ?? this.#makeId();
      this.#ids.set(key, leaderId);
      leaders.set(key, { leaderId, name });
    }
    return [...leaders.values()];
  }

  /** Whoever was erased is somebody new, should they come again. */
  forget(leaderId: string): void {
    for (const [key, known] of this.#ids) if (known === leaderId) this.#ids.delete(key);
  }
}
