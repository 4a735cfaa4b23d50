// Where the archive's database is reached, and that readings go to no other computer in clear.

import { said } from '../../../shared/said.ts';
import { HubError } from '../../base/hub-error.ts';
import { isLoopback } from '../../base/loopback.ts';

/**
 * Throws a HubError that says what to write, for a database on another computer whose address does not ask for a connection
 * encrypted and proven (`sslmode=verify-full`: https://www.postgresql.org/docs/15/libpq-ssl.html, table 34.1; with the weaker
 * modes whoever sits between can be the database). `environment`: the host where the address names none.
 */
export function checkArchiveAddress(url: string, environment: NodeJS.ProcessEnv = process.env): void {
  if (!URL.canParse(url)) throw new HubError('config.badValue', said('school.needsArchive'));
  const address = new URL(url);
  const asked = address.searchParams.getAll('host').at(-1) ?? decodeURIComponent(address.hostname);
  const host = (asked === '' ? (environment['PGHOST'] ?? '') : asked).replace(/^\[|\]$/g, '');
  // A socket in the file system, or PostgreSQL's own default, is this computer.
  if (host === '' || host.startsWith('/') || isLoopback(host)) return;
  if (address.searchParams.getAll('sslmode').at(-1) !== 'verify-full')
    throw new HubError('config.badValue', said('school.openDatabase', { host }));
}
