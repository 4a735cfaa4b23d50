// The list of recordings, kept: a line is read anew only when something of its session was written since, a summary of it among
// that, so that the ten thousandth recording costs the list no more than the first.

import type { ListedPart, StoredSessionSummary } from '../base/ports/stored-session.ts';
import { binnedAthleteIds, isWhollyBinned } from './binned-parts.ts';
import { type AthleteHolds, figuresTogether, figuresToldLive } from './hold-figures.ts';
import { bodyOf, type SessionRow, viewOf } from './rows.ts';
import type { SessionTables } from './session-tables.ts';
import type { SummaryTable } from './summary-table.ts';

interface Line {
  readonly sessionNo: number;
  readonly startedWallAtMs: number;
  /** Null for one that does not show: in the bin, or still being imported. */
  readonly summary: StoredSessionSummary | null;
  /** As of which version of the list it is so. */
  readonly version: number;
}

/** What has changed in the list since a version of it, for a copy kept elsewhere. */
export interface ListChanges {
  readonly version: number;
  /** Ids of all that show, the newest first. */
  readonly order: readonly string[];
  readonly changed: readonly StoredSessionSummary[];
}

/** So many are read one by one, or so much of the list; more by a few queries over everything. */
const fewLines = 50;
const fewOfList = 0.1;

export class SessionList {
  readonly #tables: SessionTables;
  readonly #summaries: SummaryTable;
  readonly #names: () => ReadonlyMap<string, string>;
  readonly #lines = new Map<number, Line>();
  /** The newest first. */
  #order: readonly Line[] = [];
  #stale: Set<number> | 'all' = 'all';
  #version = 0;

  constructor(tables: SessionTables, summaries: SummaryTable, names: () => ReadonlyMap<string, string>) {
    this.#tables = tables;
    this.#summaries = summaries;
    this.#names = names;
    tables.onChange((sessionNo) => this.changed(sessionNo));
  }

  /** Something of a session was written that its line tells of, in a table that does not say so by itself. */
  changed(sessionNo: number): void {
    if (this.#stale !== 'all') this.#stale.add(sessionNo);
  }

  /** Somebody has another name: the lines of everything they are in. */
  renamed(athleteId: string): void {
    for (const { sessionNo, summary } of this.#lines.values())
      if (this.#stale !== 'all' && summary?.session.athleteIds.includes(athleteId) === true)
        this.#stale.add(sessionNo);
  }

  all(): readonly StoredSessionSummary[] {
    this.#refresh();
    return this.#order.flatMap(({ summary }) => summary ?? []);
  }

  changesSince(version: number): ListChanges {
    this.#refresh();
    const shown = this.#order.filter(({ summary }) => summary !== null);
    return {
      version: this.#version,
      order: shown.map(({ summary }) => summary!.session.sessionId),
      changed: shown.filter((line) => line.version > version).map(({ summary }) => summary!),
    };
  }

  #refresh(): void {
    const stale = this.#stale;
    if (stale !== 'all' && stale.size === 0) return;
    this.#version += 1;
    const areFew = stale !== 'all' && stale.size <= Math.max(fewLines, fewOfList * this.#lines.size);
    const rows = areFew
      ? [...stale].flatMap((sessionNo) => this.#tables.rowOf(sessionNo) ?? [])
      : this.#tables.rows().filter((row) => stale === 'all' || stale.has(row.session_no));
    if (stale === 'all') this.#lines.clear();
    else for (const sessionNo of stale) this.#lines.delete(sessionNo);
    this.#take(rows, areFew ? rows.map((row) => row.session_no) : null);
    // One that is being recorded grows with every packet.
    this.#stale = new Set(rows.filter(({ status }) => status === 'recording').map((row) => row.session_no));
    this.#order = [...this.#lines.values()].sort(
      (one, other) => other.startedWallAtMs - one.startedWallAtMs || other.sessionNo - one.sessionNo,
    );
  }

  /** `of` is null where it is quicker to read what is needed of all than of each. */
  #take(rows: readonly SessionRow[], of: readonly number[] | null): void {
    const figures = this.#tables.holdFigures(of);
    const unwatched = this.#tables.unwatched(of);
    const lastAt = this.#tables.lastAt(of);
    const allWorkedOut = of === null ? this.#summaries.allFigures() : null;
    const names = this.#names();
    for (const row of rows) {
      const sessionNo = row.session_no;
      const body = bodyOf(row);
      const isBeingImported = row.status === 'recording' && body.source === 'import';
      const hidden = binnedAthleteIds(body);
      const athletes = body.athletes.filter(({ athleteId }) => !hidden.has(athleteId));
      const holds = figures.get(sessionNo) ?? [];
      const isShown = ({ athlete_id }: AthleteHolds): boolean =>
        athlete_id === null || !hidden.has(athlete_id);
      const summary: StoredSessionSummary | null =
        isBeingImported || isWhollyBinned(body)
          ? null
          : {
              session: {
                ...viewOf(row, unwatched.get(sessionNo) ?? [], body),
                athleteIds: athletes.map(({ athleteId }) => athleteId),
              },
              athleteNames: athletes.map(({ athleteId, name }) => names.get(athleteId) ?? name),
              ...figuresTogether(holds.filter(isShown).map(figuresToldLive)),
              parts: athletes.map(({ athleteId }): ListedPart => {
                const workedOut =
                  allWorkedOut === null
                    ? this.#summaries.figuresOf(sessionNo, athleteId)
                    : allWorkedOut.get(sessionNo)?.get(athleteId);
                const own = holds.find(({ athlete_id }) => athlete_id === athleteId);
                return { athleteId, toldLive: figuresToldLive(own), workedOut: workedOut ?? null };
              }),
              durationMs: Math.max(row.ended_at_ms ?? 0, lastAt.get(sessionNo) ?? 0),
            };
      this.#lines.set(sessionNo, {
        sessionNo,
        startedWallAtMs: row.started_wall_at_ms,
        summary,
        version: this.#version,
      });
    }
  }
}
