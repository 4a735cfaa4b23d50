// Prepared statements with the types of their parameters and rows.

import type { Database, Statement } from 'better-sqlite3';

type ParametersOf<Parameters> = Parameters extends unknown[] ? Parameters : [Parameters];

/** `Parameters` is a tuple for `?`, an object for `@names`. */
export const prepare =
  (database: Database) =>
  <Parameters extends unknown[] | object, Row = unknown>(
    sql: string,
  ): Statement<ParametersOf<Parameters>, Row> =>
    database.prepare(sql) as Statement<ParametersOf<Parameters>, Row>;
