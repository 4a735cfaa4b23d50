// Whose program is at the other end of a connection from this machine. Linux alone says so, and only there it is asked.

import { readFileSync } from 'node:fs';

/** Columns of /proc/net/tcp (Linux, Documentation/networking/proc_net_tcp.rst): 1 and 2 the ends, 7 the user. */
const localColumn = 1;
const remoteColumn = 2;
const userColumn = 7;

/**
 * The user id of the socket with port `theirPort` that is connected to our `ourPort`; undefined where it isn't known.
 * `tables` are the texts of /proc/net/tcp and tcp6.
 */
export function userOfPeer(
  theirPort: number,
  ourPort: number,
  tables: readonly string[] = readTables(),
): number | undefined {
  const ends = (port: number): string => `:${port.toString(16).toUpperCase().padStart(4, '0')}`;
  for (const table of tables)
    for (const line of table.split('\n').slice(1)) {
      const columns = line.trim().split(/\s+/);
      const isTheirs =
        columns[localColumn]?.endsWith(ends(theirPort)) && columns[remoteColumn]?.endsWith(ends(ourPort));
      const user = Number(columns[userColumn]);
      if (isTheirs && Number.isInteger(user)) return user;
    }
  return undefined;
}

/**
 * True when the connection comes from another ordinary user of this machine. The administrator can read the key anyway,
 * and relays (of a virtual machine, of ssh) often run as one.
 */
export function isOtherUser(user: number | undefined, own = process.getuid?.() ?? 0): boolean {
  return user !== undefined && user !== own && user !== 0;
}

function readTables(): string[] {
  return ['/proc/net/tcp', '/proc/net/tcp6'].flatMap((path) => {
    try {
      return [readFileSync(path, 'utf8')];
    } catch {
      // Not Linux, or one of the two families is missing.
      return [];
    }
  });
}
