// /api/school/...: rooms, health, who is who at several hubs; /school/metrics: the same for a monitoring program.

import type { FastifyReply } from 'fastify';
import { said } from '../../shared/said.ts';
import {
  type SchoolHealthBody,
  type SchoolMergePreviewBody,
  type SchoolPersonsBody,
  type SchoolRoomsBody,
  schoolMergeRequestSchema,
} from '../../shared/school/pages.ts';
import type { WallMs } from '../../shared/units.ts';
import type { Refusal } from '../base/refusal.ts';
import { checkBody, type RouteModule, sendRefusal } from '../server/route.ts';
import type { Archive } from './archive/archive.ts';
import {
  listMerges,
  listPersons,
  type MergeRefusal,
  mergePersons,
  previewMerge,
  undoMerge,
} from './archive/persons.ts';
import type { RoomState } from './rooms/rooms.ts';

export interface SchoolRouteParts {
  readonly archive: Archive;
  readonly rooms: () => readonly RoomState[];
  readonly health: () => Promise<SchoolHealthBody>;
  /** Who is who has changed: lists are read anew. */
  readonly peopleChanged: () => Promise<void>;
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

export const schoolRoutes =
  (parts: SchoolRouteParts): RouteModule =>
  (app) => {
    const { archive, rooms, health, peopleChanged } = parts;
    const ofCoach = { config: { access: 'coach' as const, saves: false } };

    app.get(
      '/api/school/rooms',
      ofCoach,
      async (): Promise<SchoolRoomsBody> => ({
        rooms: rooms().map((room) => ({ ...room, athleteNames: [...room.athleteNames] })),
      }),
    );

    app.get('/api/school/health', { config: { access: 'joined' } }, () => health());

    app.get('/api/school/persons', ofCoach, async (): Promise<SchoolPersonsBody> => {
      const [persons, merges] = await Promise.all([listPersons(archive), listMerges(archive)]);
      return {
        persons: persons.map((person) => ({ ...person, athletes: [...person.athletes] })),
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
        kept: { ...preview.value.kept, athletes: [...preview.value.kept.athletes] },
        taken: { ...preview.value.taken, athletes: [...preview.value.taken.athletes] },
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
  };
