// A table a month of what grows, made when the first of its month comes.

import type { PoolClient } from 'pg';

const partitioned = ['segments', 'told', 'holds', 'alarms'] as const;
/** What is said to be from outside of these years is kept together: a hub's clock was wrong, nothing is lost for it. */
const firstYear = 2020;
const lastYear = 2099;

/** The first day of the month, UTC, as PostgreSQL reads it: 2026-11-01. */
export function monthOf(wallMs: number): string {
  const date = new Date(wallMs);
  if (Number.isNaN(date.getTime())) return '1970-01-01';
  return `${String(date.getUTCFullYear()).padStart(4, '0')}-${String(date.getUTCMonth() + 1).padStart(2, '0')}-01`;
}

function rangeOf(month: string): { readonly name: string; readonly bounds: string } {
  const year = Number(month.slice(0, 4));
  if (year < firstYear || year > lastYear) return { name: 'other', bounds: 'DEFAULT' };
  const name = month.slice(0, 7).replace('-', '_');
  const next = monthOf(Date.UTC(year, Number(month.slice(5, 7)), 1));
  return { name, bounds: `FOR VALUES FROM ('${month}') TO ('${next}')` };
}

export class Partitions {
  readonly #made = new Set<string>();

  /** In a transaction of its own, so that one that fails takes no table with it. */
  async prepare(client: PoolClient, month: string): Promise<void> {
    const { name, bounds } = rangeOf(month);
    if (this.#made.has(name)) return;
    for (const table of partitioned)
      await client.query(`CREATE TABLE IF NOT EXISTS ${table}_${name} PARTITION OF ${table} ${bounds}`);
    this.#made.add(name);
  }
}
