// Every write of the database as one transaction that takes along what is buffered, and how proof against a power cut it is.

import type { Database } from 'better-sqlite3';
import { databaseFault } from './database-fault.ts';

export type Durability = 'disk' | 'process';
/** Writes what is buffered; what is to be forgotten once that is committed goes into `settle`. */
export type Joining = (settle: (() => void)[]) => void;

export class Transactions {
  readonly #database: Database;
  readonly #path: string;
  readonly #inTransaction: (work: () => void) => void;
  readonly #joining: Joining[] = [];
  #durability: Durability = 'disk';
  /** How proof a write is that does not say; a run of writes is synced at once by the commit at its end. */
  usual: Durability = 'disk';
  #unsynced = false;
  /**
   * A sync has failed: the kernel may have dropped what it could not write, and still says of the next sync that all is well
   * (fsync(2), errors). Until the log has been written anew into the file, nothing is called proof against a power cut.
   */
  #doubted = false;

  constructor(database: Database, path: string) {
    this.#database = database;
    this.#path = path;
    this.#inTransaction = database.transaction((work: () => void) => work());
  }

  /** True while something committed is not yet proof against a power cut. */
  get unsynced(): boolean {
    return this.#unsynced || this.#doubted;
  }

  /** What goes along with every write. */
  joinEach(joining: Joining): void {
    this.#joining.push(joining);
  }

  /** Throws what is wrong with the file as a HubError. */
  read<Value>(read: () => Value): Value {
    try {
      return read();
    } catch (cause) {
      throw databaseFault(cause, this.#path);
    }
  }

  /** If it fails nothing of it happened, and the buffers stay. */
  write(change: () => void, durability: Durability = this.usual): void {
    const settle: (() => void)[] = [];
    try {
      if (durability !== this.#durability) {
        this.#database.pragma(`synchronous = ${durability === 'disk' ? 'FULL' : 'NORMAL'}`);
        this.#durability = durability;
      }
      this.#inTransaction(() => {
        change();
        for (const join of this.#joining) join(settle);
      });
    } catch (cause) {
      if ((cause as { code?: unknown }).code === 'SQLITE_IOERR_FSYNC') this.#doubted = true;
      throw databaseFault(cause, this.#path);
    }
    this.#unsynced = durability === 'process';
    for (const done of settle) done();
    if (this.#doubted && durability === 'disk') this.#writeAnew();
  }

  /** Every page of the log into the file, which is then synced: what the log's own sync may have lost is on the disk again. */
  #writeAnew(): void {
    this.read(() => this.#database.pragma('wal_checkpoint(TRUNCATE)'));
    this.#doubted = false;
  }

  /** Gives freed pages back, and empties the log of what was deleted. */
  scrub(): void {
    this.read(() => {
      this.#database.pragma('incremental_vacuum');
      this.#database.pragma('wal_checkpoint(TRUNCATE)');
    });
  }
}
