// Wrong codes and links as entries of the audit log: the first of an address at once, more of them as one entry a minute, so
// that whoever guesses does not push out what others did.

import type { AuditLog } from '../base/ports/audit-log.ts';
import type { Clock } from '../base/ports/clock.ts';
import { nobody } from './access.ts';
import { auditEntry } from './audit.ts';

/** Our choice. */
const windowMs = 60_000;
/** Beyond these, addresses are counted together. */
const mostAddresses = 32;
const others = '*';

type RefusedAction = 'joinRefused' | 'ownPersonRefused';

export class RefusedEntries {
  readonly #audit: AuditLog;
  readonly #clock: Clock;
  /** Since the entry that opened the window. */
  readonly #more = new Map<string, number>();
  readonly #open = new Map<string, { readonly cancel: () => void; readonly write: () => void }>();

  constructor(audit: AuditLog, clock: Clock) {
    this.#audit = audit;
    this.#clock = clock;
  }

  add(action: RefusedAction, from: string): void {
    const isKnown = this.#more.has(`${action} ${from}`);
    const address = isKnown || this.#more.size < mostAddresses ? from : others;
    const key = `${action} ${address}`;
    const more = this.#more.get(key);
    if (more !== undefined) {
      this.#more.set(key, more + 1);
      return;
    }
    this.#write(action, address, 1);
    this.#openWindow(action, address, key);
  }

  /** What was counted since is written now; no window keeps the program from ending. */
  close(): void {
    for (const { cancel, write } of this.#open.values()) {
      cancel();
      write();
    }
    this.#open.clear();
    this.#more.clear();
  }

  #openWindow(action: RefusedAction, address: string, key: string): void {
    this.#more.set(key, 0);
    const write = (): boolean => {
      const count = this.#more.get(key) ?? 0;
      if (count > 0) this.#write(action, address, count);
      return count > 0;
    };
    const cancel = this.#clock.after(windowMs, () => {
      const wasWritten = write();
      this.#more.delete(key);
      this.#open.delete(key);
      if (wasWritten) this.#openWindow(action, address, key);
    });
    this.#open.set(key, { cancel, write });
  }

  #write(action: RefusedAction, address: string, count: number): void {
    this.#audit.append({ ...auditEntry(nobody, action, this.#clock), address, count });
  }
}
