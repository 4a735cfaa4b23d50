// What was worked out from ended sessions, as a table: goes with its session and athlete, and with any correction.

import type { Database } from 'better-sqlite3';
import type { HoldFigures } from '../../src/sessions/session-summary.ts';
import { figuresOfSummary } from './hold-figures.ts';
import { type SummaryRow, summaryChecksum } from './rows.ts';
import { prepare } from './statements.ts';
import type { Transactions } from './transactions.ts';

export class SummaryTable {
  readonly #transactions: Transactions;
  readonly #sql: ReturnType<typeof statementsOf>;

  constructor(database: Database, transactions: Transactions) {
    this.#transactions = transactions;
    this.#sql = statementsOf(database);
  }

  save(sessionNo: number, athleteId: string, madeBy: string, body: unknown): void {
    const row = { session_no: sessionNo, athlete_id: athleteId, made_by: madeBy, body: JSON.stringify(body) };
    this.#transactions.write(() => {
      this.#sql.saveSummary.run({ ...row, checksum: summaryChecksum(row) });
    });
  }

  /** By session id; damaged ones are left out. */
  list(athleteId: string, madeBy: string): ReadonlyMap<string, unknown> {
    return bodiesOf(this.#transactions.read(() => this.#sql.summariesOf.all({ athlete: athleteId, madeBy })));
  }

  /** The same, made by any other rules. */
  listOthers(athleteId: string, madeBy: string): ReadonlyMap<string, unknown> {
    return bodiesOf(
      this.#transactions.read(() => this.#sql.otherSummariesOf.all({ athlete: athleteId, madeBy })),
    );
  }

  /** Undefined where there is none, where it says none, and where it is damaged. */
  figuresOf(sessionNo: number, athleteId: string): KeptFigures | undefined {
    const row = this.#sql.summary.get({ session: sessionNo, athlete: athleteId });
    return row && keptFiguresOf(row);
  }

  /** The same of all, by session number and athlete. */
  allFigures(): ReadonlyMap<number, ReadonlyMap<string, KeptFigures>> {
    const bySession = new Map<number, Map<string, KeptFigures>>();
    for (const row of this.#sql.allSummaries.iterate()) {
      const kept = keptFiguresOf(row);
      if (kept === undefined) continue;
      const known = bySession.get(row.session_no);
      if (known === undefined) bySession.set(row.session_no, new Map([[row.athlete_id, kept]]));
      else known.set(row.athlete_id, kept);
    }
    return bySession;
  }

  /** In a transaction of the caller's. */
  removeWithin(sessionNo: number, athleteId: string): void {
    this.#sql.removeSummary.run({ session: sessionNo, athlete: athleteId });
  }

  /** In a transaction of the caller's. */
  removeOfWithin(athleteId: string): void {
    this.#sql.removeSummariesOf.run(athleteId);
  }
}

export interface KeptFigures {
  readonly madeBy: string;
  readonly figures: HoldFigures;
}

function keptFiguresOf(row: SummaryRow): KeptFigures | undefined {
  if (row.checksum !== summaryChecksum(row)) return undefined;
  const figures = figuresOfSummary(JSON.parse(row.body));
  return figures && { madeBy: row.made_by, figures };
}

type NamedRow = SummaryRow & { readonly session_id: string };

const bodiesOf = (rows: readonly NamedRow[]): ReadonlyMap<string, unknown> =>
  new Map(
    rows.flatMap((row): [string, unknown][] =>
      row.checksum === summaryChecksum(row) ? [[row.session_id, JSON.parse(row.body)]] : [],
    ),
  );

const statementsOf = (database: Database) => ({
  summariesOf: prepare(database)<{ athlete: string; madeBy: string }, NamedRow>(
    `SELECT summaries.session_no, session_id, athlete_id, made_by, summaries.body, summaries.checksum
     FROM summaries JOIN sessions USING (session_no) WHERE athlete_id = @athlete AND made_by = @madeBy`,
  ),
  otherSummariesOf: prepare(database)<{ athlete: string; madeBy: string }, NamedRow>(
    `SELECT summaries.session_no, session_id, athlete_id, made_by, summaries.body, summaries.checksum
     FROM summaries JOIN sessions USING (session_no) WHERE athlete_id = @athlete AND made_by <> @madeBy`,
  ),
  allSummaries: prepare(database)<[], SummaryRow>('SELECT * FROM summaries'),
  summary: prepare(database)<{ session: number; athlete: string }, SummaryRow>(
    'SELECT * FROM summaries WHERE athlete_id = @athlete AND session_no = @session',
  ),
  saveSummary: prepare(database)<SummaryRow>(
    `INSERT INTO summaries (session_no, athlete_id, made_by, body, checksum)
     VALUES (@session_no, @athlete_id, @made_by, @body, @checksum)
     ON CONFLICT (athlete_id, session_no) DO UPDATE SET made_by = excluded.made_by, body = excluded.body,
       checksum = excluded.checksum`,
  ),
  removeSummary: prepare(database)<{ session: number; athlete: string }>(
    'DELETE FROM summaries WHERE session_no = @session AND athlete_id = @athlete',
  ),
  removeSummariesOf: prepare(database)<[string]>('DELETE FROM summaries WHERE athlete_id = ?'),
});
