// /api/restore: putting a backup in the place of the recordings. The file is sent, looked at, and only then taken, by a hub that
// stops for it and starts again.

import { createWriteStream } from 'node:fs';
import { mkdir, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { type LookedBody, lookRequestSchema } from '../../../shared/backups.ts';
import { said } from '../../../shared/said.ts';
import { wallMs } from '../../../shared/units.ts';
import { failed, ok, type Result } from '../../../src/result.ts';
import { HubError } from '../../base/hub-error.ts';
import type { Refusal } from '../../base/refusal.ts';
import { isLockedFile } from '../../recorder/backup/locked-file.ts';
import { lookAtBackup } from '../../recorder/backup/offered-backup.ts';
import { checkBody, type RouteContext, type RouteModule, sendRefusal } from '../route.ts';

/** One that nobody goes on with is taken away. */
const keptForMs = 3_600_000;

const notOffered: Refusal = { code: 'notFound', said: said('refusal.notOffered') };
const betweenSessions: Refusal = { code: 'sessionRunning', said: said('refusal.restoreBetweenSessions') };
const looking: Refusal = { code: 'tooManyRequests', said: said('refusal.backupGoesOn') };

interface Offered {
  readonly restoreId: string;
  readonly folder: string;
  readonly path: string;
  /** It was looked at and is whole. */
  good: boolean;
}

/** What is in it, beside what is there now; or why it is no backup to go back to. */
async function lookAt(
  { hub, store, clock, log }: RouteContext,
  path: string,
  passphrase: string | null,
): Promise<Result<LookedBody, Refusal>> {
  try {
    const warn = (message: string, error?: unknown): void => log.error(message, error);
    const { newestWallAtMs, ...counts } = await lookAtBackup(path, passphrase, { clock, warn });
    return ok({
      ...counts,
      newestWallAtMs: newestWallAtMs === null ? null : wallMs(newestWallAtMs),
      present: { sessionCount: (await store.listSessions()).length, athleteCount: hub.athletes.length },
    });
  } catch (error) {
    if (error instanceof HubError && error.code.startsWith('input.'))
      return failed<Refusal>({ code: 'badRequest', said: error.said });
    throw error;
  }
}

export const restoreRoutes: RouteModule = (app, context) => {
  const { hub, clock, makeId, restoring } = context;
  let offered: Offered | undefined;
  let busy = false;
  let stopWaiting = (): void => undefined;
  // The file itself stays: it may be what the hub stops for.
  app.addHook('onClose', async () => stopWaiting());
  const forget = async (): Promise<void> => {
    const { folder } = offered ?? {};
    offered = undefined;
    if (folder !== undefined) await rm(folder, { recursive: true, force: true });
  };
  const stages = restoring === null ? undefined : join(restoring.folder, 'restore-offered');
  // Left by a hub that was stopped meanwhile.
  if (stages !== undefined) void rm(stages, { recursive: true, force: true }).catch(() => undefined);

  app.post('/api/restore', { config: { access: 'coach' }, bodyLimit: 2 ** 40 }, async (request, reply) => {
    if (stages === undefined)
      return sendRefusal(reply, { code: 'notFound', said: said('refusal.noRestore') });
    if (hub.session !== null) return sendRefusal(reply, betweenSessions);
    if (!(request.body instanceof Readable))
      return sendRefusal(reply, { code: 'badRequest', said: said('refusal.importAsStream') });
    await forget();
    const restoreId = makeId();
    const folder = join(stages, restoreId);
    const path = join(folder, 'backup');
    await mkdir(folder, { recursive: true, mode: 0o700 });
    try {
      await pipeline(request.body, createWriteStream(path, { mode: 0o600 }));
    } catch (error) {
      await rm(folder, { recursive: true, force: true });
      throw error;
    }
    offered = { restoreId, folder, path, good: false };
    stopWaiting();
    stopWaiting = clock.after(keptForMs, () => void forget());
    return reply.code(201).send({ restoreId, locked: await isLockedFile(path) });
  });

  app.post<{ Params: { restoreId: string } }>(
    '/api/restore/:restoreId/look',
    { config: { access: 'coach' } },
    async (request, reply) => {
      const body = checkBody(lookRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const found = offered;
      if (found?.restoreId !== request.params.restoreId) return sendRefusal(reply, notOffered);
      if (busy) return sendRefusal(reply, looking);
      busy = true;
      const looked = await lookAt(context, found.path, body.value.passphrase).finally(() => {
        busy = false;
      });
      found.good = looked.ok;
      return looked.ok ? looked.value : sendRefusal(reply, looked.reason);
    },
  );

  app.post<{ Params: { restoreId: string } }>(
    '/api/restore/:restoreId/begin',
    { config: { access: 'coach', audit: 'backupRestored' } },
    async (request, reply) => {
      const found = offered;
      if (restoring === null || found?.restoreId !== request.params.restoreId || !found.good)
        return sendRefusal(reply, notOffered);
      if (hub.session !== null) return sendRefusal(reply, betweenSessions);
      // After the answer has gone out: the hub stops at once.
      reply.raw.once('finish', () => restoring.begin(found.path));
      return reply.code(202).send({});
    },
  );
};
