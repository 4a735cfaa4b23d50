// The figures of a school for a monitoring program, beside those that every server of ours has (server/routes/metrics.ts).
// By hub, and nothing of any person. Not translated: the help texts are for programs.

import type { AddMetrics } from '../server/routes/metrics.ts';
import type { HealthParts } from './school-health.ts';
import { schoolHealth } from './school-health.ts';

/** Read together and once a question, whichever figure asks first. */
const readsStandMs = 500;

export function schoolMetrics(parts: HealthParts, nowMs: () => number): AddMetrics {
  let read: { readonly atMs: number; readonly health: ReturnType<typeof schoolHealth> } | undefined;
  const health = (): ReturnType<typeof schoolHealth> => {
    if (read === undefined || nowMs() - read.atMs > readsStandMs)
      read = { atMs: nowMs(), health: schoolHealth(parts) };
    return read.health;
  };
  return (add) => {
    add.plain('school_server_reached', '1 while the message server answers', async () =>
      (await health()).serverConnected ? 1 : 0,
    );
    add.plain('school_archive_reached', '1 while the database answers', async () =>
      (await health()).archiveReached ? 1 : 0,
    );
    add.plain('school_taking', '1 while nothing keeps what hubs send from being kept', async () =>
      (await health()).ok ? 1 : 0,
    );
    add.plain(
      'school_stream_bytes',
      'What waits in the message server',
      async () => (await health()).stream?.bytes,
    );
    add.plain(
      'school_stream_most_bytes',
      'What it may hold before it refuses',
      async () => (await health()).stream?.mostBytes,
    );
    add.plain('school_archive_bytes', 'Size of the database', async () => (await health()).archiveBytes);
    add.plain(
      'school_disk_free_bytes',
      "On the school's own computer",
      async () => (await health()).diskFreeBytes,
    );
    const byHub = (
      name: string,
      help: string,
      of: (hub: Awaited<ReturnType<typeof schoolHealth>>['hubs'][number]) => number | null,
    ): void =>
      add.byLabel(name, help, 'hub', async () =>
        (await health()).hubs.map((hub) => ({ label: hub.hub, value: of(hub) })),
      );
    byHub('school_hub_silent', '1 while nothing is heard of it', ({ isSilent }) => (isSilent ? 1 : 0));
    byHub('school_hub_recording', '1 while a session ran when it was last heard', ({ isRecording }) =>
      isRecording ? 1 : 0,
    );
    byHub('school_hub_heard_timestamp_seconds', 'When it was last heard', ({ heardAtWallMs }) =>
      heardAtWallMs === null ? null : heardAtWallMs / 1_000,
    );
    byHub('school_hub_kept_timestamp_seconds', 'When something of it was last kept', ({ keptAtWallMs }) =>
      keptAtWallMs === null ? null : keptAtWallMs / 1_000,
    );
    byHub(
      'school_hub_waiting',
      'Messages of it that are not in the archive yet',
      ({ waitingCount }) => waitingCount,
    );
    byHub(
      'school_hub_refused',
      'Messages of it that were put aside unread',
      ({ refusedCount }) => refusedCount,
    );
    add.counter('school_messages', 'Messages of hubs, by what became of them', 'result', () => {
      const { kept, known, refused } = parts.intake.state.counts;
      return { kept, known, refused };
    });
  };
}
