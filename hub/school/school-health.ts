// How a school does: whether the archive takes what comes, what waits for it, and each hub: when it was heard, what of it
// waits, what was put aside. Read when somebody asks.

import { statfs } from 'node:fs/promises';
import type { SchoolHealthBody, SchoolHubHealth } from '../../shared/school/pages.ts';
import type { WallMs } from '../../shared/units.ts';
import type { Archive } from './archive/archive.ts';
import type { Intake, WaitingMessages } from './archive/intake.ts';
import type { RoomState } from './rooms/rooms.ts';

export interface HealthParts {
  readonly archive: Pick<Archive, 'pool'>;
  readonly intake: Pick<Intake, 'state' | 'waiting'>;
  readonly rooms: () => readonly RoomState[];
  /** Of the school's own computer. */
  readonly dataFolder: string;
}

interface ArchiveSide {
  readonly bytes: number;
  readonly keptAtWallMs: ReadonlyMap<string, WallMs>;
  readonly refusedCounts: ReadonlyMap<string, number>;
}

/** Never rejects: what cannot be read is null. */
export async function schoolHealth(parts: HealthParts): Promise<SchoolHealthBody> {
  const { archive, intake, rooms, dataFolder } = parts;
  const [waiting, side, diskFreeBytes] = await Promise.all([
    intake.waiting().catch(() => null),
    readArchive(archive).catch(() => null),
    freeBytes(dataFolder).catch(() => null),
  ]);
  const { counts, fault } = intake.state;
  return {
    ok: fault === null && waiting !== null && side !== null,
    fault,
    serverConnected: waiting !== null,
    archiveReached: side !== null,
    pendingCount: waiting?.count ?? null,
    keptCount: counts.kept,
    knownCount: counts.known,
    refusedCount: counts.refused,
    stream: waiting === null ? null : { bytes: waiting.bytes, mostBytes: waiting.mostBytes },
    archiveBytes: side?.bytes ?? null,
    diskFreeBytes,
    hubs: hubRows(rooms(), waiting, side),
  };
}

/** Rooms, and whoever sent and has never been one. */
function hubRows(
  rooms: readonly RoomState[],
  waiting: WaitingMessages | null,
  side: ArchiveSide | null,
): SchoolHubHealth[] {
  const known = new Set(rooms.map(({ hub }) => hub));
  const others = [...new Set([...(waiting?.byHub.keys() ?? []), ...(side?.refusedCounts.keys() ?? [])])]
    .filter((hub) => !known.has(hub))
    .sort();
  return [
    ...rooms.map(({ hub, name, isSilent, heardAtWallMs, isRecording }) => ({
      ...{ hub, name, isSilent, heardAtWallMs, isRecording },
      ...kept(hub),
    })),
    ...others.map((hub) => ({
      ...{ hub, name: hub, isSilent: true, heardAtWallMs: null, isRecording: false },
      ...kept(hub),
    })),
  ];

  function kept(hub: string) {
    return {
      waitingCount: waiting === null ? null : (waiting.byHub.get(hub) ?? 0),
      keptAtWallMs: side?.keptAtWallMs.get(hub) ?? null,
      refusedCount: side === null ? null : (side.refusedCounts.get(hub) ?? 0),
    };
  }
}

async function readArchive({ pool }: Pick<Archive, 'pool'>): Promise<ArchiveSide> {
  const [size, hubs, refused] = await Promise.all([
    pool.query<{ bytes: string }>('SELECT pg_database_size(current_database()) AS bytes'),
    pool.query<{ hub_id: string; kept_ms: string }>(
      'SELECT hub_id, floor(extract(epoch FROM last_kept) * 1000) AS kept_ms FROM hubs',
    ),
    pool.query<{ hub_id: string; n: string }>('SELECT hub_id, count(*) AS n FROM refused GROUP BY hub_id'),
  ]);
  return {
    bytes: Number(size.rows[0]?.bytes ?? 0),
    keptAtWallMs: new Map(hubs.rows.map(({ hub_id, kept_ms }) => [hub_id, Number(kept_ms) as WallMs])),
    refusedCounts: new Map(refused.rows.map(({ hub_id, n }) => [hub_id, Number(n)])),
  };
}

async function freeBytes(folder: string): Promise<number> {
  const { bavail, bsize } = await statfs(folder);
  return bavail * bsize;
}
