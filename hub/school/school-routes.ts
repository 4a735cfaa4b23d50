// /api/school/...: rooms, health, who is who at several hubs.

import { Readable } from 'node:stream';
import type { FastifyInstance, FastifyReply } from 'fastify';
import { foldedName } from '../../shared/name-text.ts';
import { said } from '../../shared/said.ts';
import {
  type AsideCopiesBody,
  type SchoolBelongingsBody,
  type SchoolErasuresBody,
  type SchoolHealthBody,
  type SchoolMergePreviewBody,
  type SchoolPerson,
  type SchoolPersonsBody,
  type SchoolRoomsBody,
  schoolErasurePreviewRequestSchema,
  schoolErasureRequestSchema,
  schoolMergeRequestSchema,
} from '../../shared/school/pages.ts';
import type { WallMs } from '../../shared/units.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { Refusal } from '../base/refusal.ts';
import { plainFileName } from '../recordings/export/recording-files.ts';
import type { RecordedSessions } from '../recordings/recorded-sessions.ts';
import { attachmentNamed } from '../server/attachment-name.ts';
import { checkBody, type RouteModule, sendRefusal, signalOfPage } from '../server/route.ts';
import type { Archive } from './archive/archive.ts';
import { asideCopy, linesOfAside, listAside } from './archive/aside-copies.ts';
import { listErasures, previewErasure } from './archive/erasures.ts';
import { listCoaches, recordingsLed } from './archive/leaders.ts';
import {
  listMerges,
  listPersons,
  type MergeRefusal,
  mergePersons,
  type PersonView,
  previewMerge,
  proposeMerges,
  undoMerge,
} from './archive/persons.ts';
import type { Erasing } from './erasing.ts';
import { athletesOfPerson, exportPerson } from './export-person.ts';
import type { RoomState } from './rooms/rooms.ts';

export interface SchoolRouteParts {
  readonly archive: Archive;
  readonly rooms: () => readonly RoomState[];
  readonly health: () => Promise<SchoolHealthBody>;
  /** Who is who has changed: lists are read anew. */
  readonly peopleChanged: () => Promise<void>;
  readonly erasing: Pick<Erasing, 'erase'>;
  readonly recordings: Pick<RecordedSessions, 'file'>;
  readonly clock: Clock;
}

const refusalOf: Readonly<Record<MergeRefusal, Refusal>> = {
  unknownPerson: { code: 'unknownAthlete', said: said('school.unknownPerson') },
  samePerson: { code: 'badRequest', said: said('school.samePerson') },
  togetherInSession: { code: 'badRequest', said: said('school.togetherInSession') },
  unknownMerge: { code: 'notFound', said: said('school.unknownMerge') },
  mergedSince: { code: 'badRequest', said: said('school.mergedSince') },
};

const sendMergeRefusal = (reply: FastifyReply, reason: MergeRefusal): FastifyReply =>
  sendRefusal(reply, refusalOf[reason]);

const personBody = (person: PersonView): SchoolPerson => ({
  ...person,
  athletes: [...person.athletes],
  firstWallAtMs: person.firstWallAtMs as WallMs | null,
  lastWallAtMs: person.lastWallAtMs as WallMs | null,
});

export const schoolRoutes =
  (parts: SchoolRouteParts): RouteModule =>
  (app) => {
    const { archive, rooms, health, peopleChanged } = parts;
    const ofCoach = { config: { access: 'coach' as const, saves: false } };

    app.get(
      '/api/school/rooms',
      ofCoach,
      async ({ access }): Promise<SchoolRoomsBody> => ({
        rooms: rooms()
          .filter(({ hub }) => access.rooms?.hubs.includes(hub) ?? true)
          .map((room) => ({ ...room, athleteNames: [...room.athleteNames] })),
      }),
    );

    app.get('/api/school/health', ofCoach, () => health());

    asideRoutes(app, parts);

    app.get('/api/school/persons', ofCoach, async (): Promise<SchoolPersonsBody> => {
      const [persons, merges, coaches] = await Promise.all([
        listPersons(archive),
        listMerges(archive),
        listCoaches(archive),
      ]);
      return {
        proposals: [...(await proposeMerges(archive, persons))],
        persons: persons.map(personBody),
        coaches: coaches.map((coach) => ({ ...coach, rooms: [...coach.rooms] })),
        merges: merges.map((merge) => ({ ...merge, doneAtWallMs: merge.doneAtWallMs as WallMs })),
      };
    });

    app.post('/api/school/merges/preview', ofCoach, async (request, reply) => {
      const body = checkBody(schoolMergeRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const { keptPersonId, takenPersonId } = body.value;
      const preview = await previewMerge(archive, keptPersonId, takenPersonId);
      if (!preview.ok) return sendMergeRefusal(reply, preview.reason);
      const answer: SchoolMergePreviewBody = {
        kept: personBody(preview.value.kept),
        taken: personBody(preview.value.taken),
        overlapCount: preview.value.overlapCount,
      };
      return answer;
    });

    app.post('/api/school/merges', ofCoach, async (request, reply) => {
      const body = checkBody(schoolMergeRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const { keptPersonId, takenPersonId } = body.value;
      const merged = await mergePersons(archive, keptPersonId, takenPersonId, request.access.deviceName);
      if (!merged.ok) return sendMergeRefusal(reply, merged.reason);
      await peopleChanged();
      return { mergeId: merged.value };
    });

    app.delete<{ Params: { mergeId: string } }>(
      '/api/school/merges/:mergeId',
      ofCoach,
      async (request, reply) => {
        const { mergeId } = request.params;
        const undone = /^\d{1,15}$/.test(mergeId)
          ? await undoMerge(archive, mergeId, request.access.deviceName)
          : ({ ok: false, reason: 'unknownMerge' } as const);
        if (!undone.ok) return sendMergeRefusal(reply, undone.reason);
        await peopleChanged();
        return reply.code(204).send();
      },
    );

    erasureRoutes(app, parts);
    exportRoute(app, parts);
  };

/** All of one person as one file. */
function exportRoute(app: FastifyInstance, { archive, recordings, clock }: SchoolRouteParts): void {
  app.get<{ Params: { personId: string } }>(
    '/api/school/persons/:personId/export',
    { config: { access: 'coach', audit: 'exported' } },
    async (request, reply) => {
      const { personId } = request.params;
      const athletes = await athletesOfPerson(archive, personId);
      if (athletes.length === 0) return sendMergeRefusal(reply, 'unknownPerson');
      request.auditedAthleteId = personId;
      const exportedAtWallMs = clock.wallNowMs();
      const parts = { archive, recordings, personId, exportedAtWallMs, signal: signalOfPage(reply) };
      return reply
        .header('content-type', 'application/zip')
        .header('content-disposition', attachmentNamed(`slackwater-${plainFileName(athletes[0]!.name)}.zip`))
        .send(Readable.from(exportPerson(parts, athletes)));
    },
  );

  app.get<{ Querystring: { name?: string } }>(
    '/api/school/coaches/export',
    { config: { access: 'coach', audit: 'exported' } },
    async ({ query: { name = '' } }, reply) => {
      const led = await recordingsLed(archive.pool, new Set([foldedName(name)]));
      if (led.length === 0) return sendMergeRefusal(reply, 'unknownPerson');
      const list = { version: 1, name, exportedAt: new Date(clock.wallNowMs()).toISOString(), led };
      return reply
        .header('content-type', 'application/json')
        .header('content-disposition', attachmentNamed(`slackwater-led-${plainFileName(name)}.json`))
        .send(`${JSON.stringify(list, null, 1)}\n`);
    },
  );
}

/** Copies of recordings that another took the place of. */
function asideRoutes(app: FastifyInstance, { archive }: SchoolRouteParts): void {
  app.get(
    '/api/school/aside',
    { config: { access: 'coach', saves: false } },
    async ({ access }): Promise<AsideCopiesBody> => ({
      copies: (await listAside(archive))
        .filter(({ hub }) => access.rooms?.hubs.includes(hub) ?? true)
        .map((each) => ({
          ...each,
          startedWallAtMs: each.startedWallAtMs as WallMs,
          athleteNames: [...each.athleteNames],
        })),
    }),
  );

  app.get<{ Params: { sessionId: string; copy: string } }>(
    '/api/school/aside/:sessionId/:copy',
    { config: { access: 'coach', audit: 'exported' } },
    async ({ params: { sessionId, copy } }, reply) => {
      const aside = await asideCopy(archive, sessionId, Number(copy));
      if (aside === undefined)
        return sendRefusal(reply, { code: 'notFound', said: said('school.unknownCopy') });
      return reply
        .header('content-type', 'application/x-ndjson')
        .header(
          'content-disposition',
          attachmentNamed(`${plainFileName(sessionId)}-aside-${aside.copy}.ndjson`),
        )
        .send(Readable.from(linesOfAside(archive, aside)));
    },
  );
}

/** Erasing somebody: what goes, that it is asked for, and how far it is. */
function erasureRoutes(app: FastifyInstance, { archive, erasing }: SchoolRouteParts): void {
  const ofCoach = { config: { access: 'coach' as const, saves: false } };

  app.get('/api/school/erasures', ofCoach, async (): Promise<SchoolErasuresBody> => {
    const wall = (ms: number) => ms as WallMs;
    const wallOrNull = (ms: number | null) => ms as WallMs | null;
    return {
      erasures: (await listErasures(archive)).map((each) => ({
        ...each,
        askedAtWallMs: wall(each.askedAtWallMs),
        archiveDoneAtWallMs: wall(each.archiveDoneAtWallMs),
        streamDoneAtWallMs: wallOrNull(each.streamDoneAtWallMs),
        hubs: each.hubs.map((hub) => ({ ...hub, doneAtWallMs: wallOrNull(hub.doneAtWallMs) })),
      })),
    };
  });

  app.post('/api/school/erasures/preview', ofCoach, async (request, reply) => {
    const body = checkBody(schoolErasurePreviewRequestSchema, request.body);
    if (!body.ok) return sendRefusal(reply, body.refusal);
    const preview = await previewErasure(archive, body.value.personId);
    if (!preview.ok) return sendMergeRefusal(reply, preview.reason);
    const { person, ...counts } = preview.value;
    const answer: SchoolBelongingsBody = {
      person: personBody(person),
      ...counts,
    };
    return answer;
  });

  app.post('/api/school/erasures', ofCoach, async (request, reply) => {
    const body = checkBody(schoolErasureRequestSchema, request.body);
    if (!body.ok) return sendRefusal(reply, body.refusal);
    const erased = await erasing.erase(body.value, request.access);
    if (!erased.ok) return sendMergeRefusal(reply, erased.reason);
    return reply.code(201).send({ erasureId: erased.value.erasureId });
  });
}
