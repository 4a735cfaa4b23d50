// Athletes and who wears which sensor, as tables.

import type { Database } from 'better-sqlite3';
import { said } from '../../shared/said.ts';
import type { Athlete } from '../../shared/views.ts';
import { HubError } from '../base/hub-error.ts';
import { checksumOf } from './row-checksums.ts';
import type { AssignmentRow, AthleteRow } from './rows.ts';
import { prepare } from './statements.ts';
import { readAthlete } from './stored-shapes.ts';
import type { Transactions } from './transactions.ts';

export class AthleteTable {
  readonly #transactions: Transactions;
  readonly #sql: ReturnType<typeof statementsOf>;

  constructor(database: Database, transactions: Transactions) {
    this.#transactions = transactions;
    this.#sql = statementsOf(database);
  }

  list(): readonly Athlete[] {
    return this.#transactions.read(() =>
      this.#sql.athletes.all().flatMap((row) => readAthlete(JSON.parse(row.body)) ?? []),
    );
  }

  save(athlete: Athlete): void {
    const body = JSON.stringify(athlete);
    this.#transactions.write(() => {
      this.#sql.saveAthlete.run(athlete.athleteId, body, checksumOf([athlete.athleteId, body]));
    });
  }

  /** In a transaction of the caller's. */
  removeWithin(athleteId: string): void {
    this.#sql.removeAthlete.run(athleteId);
  }

  assignSensor(sensorId: string, athleteId: string | null): void {
    if (athleteId !== null && this.#transactions.read(() => this.#sql.athlete.get(athleteId)) === undefined)
      throw new HubError('data.refused', said('data.noSuchAthlete', { athleteId }));
    this.#transactions.write(() => {
      if (athleteId === null) this.#sql.unassign.run(sensorId);
      else this.#sql.assign.run(sensorId, athleteId, checksumOf([sensorId, athleteId]));
    });
  }

  assignments(): ReadonlyMap<string, string> {
    return this.#transactions.read(
      () => new Map(this.#sql.assignments.all().map((row) => [row.sensor_id, row.athlete_id])),
    );
  }
}

const statementsOf = (database: Database) => ({
  athletes: prepare(database)<[], AthleteRow>(
    'SELECT athlete_id, body, checksum FROM athletes ORDER BY athlete_no',
  ),
  athlete: prepare(database)<[string], { athlete_id: string }>(
    'SELECT athlete_id FROM athletes WHERE athlete_id = ?',
  ),
  saveAthlete: prepare(database)<[string, string, number]>(
    `INSERT INTO athletes (athlete_id, body, checksum) VALUES (?, ?, ?)
     ON CONFLICT (athlete_id) DO UPDATE SET body = excluded.body, checksum = excluded.checksum`,
  ),
  removeAthlete: prepare(database)<[string]>('DELETE FROM athletes WHERE athlete_id = ?'),
  assignments: prepare(database)<[], AssignmentRow>(
    'SELECT sensor_id, athlete_id, checksum FROM assignments ORDER BY assignment_no',
  ),
  assign: prepare(database)<[string, string, number]>(
    `INSERT INTO assignments (sensor_id, athlete_id, checksum) VALUES (?, ?, ?)
     ON CONFLICT (sensor_id) DO UPDATE SET athlete_id = excluded.athlete_id, checksum = excluded.checksum`,
  ),
  unassign: prepare(database)<[string]>('DELETE FROM assignments WHERE sensor_id = ?'),
});
