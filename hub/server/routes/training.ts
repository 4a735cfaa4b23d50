// /api/athletes/:athleteId/training: the log of training without sensors, and the advice that rests on everything known.

import type { DeletedBody } from '../../../shared/bin.ts';
import { said } from '../../../shared/said.ts';
import {
  type TrainingEntry,
  trainingEntrySchema,
  trainingRequestSchema,
} from '../../../shared/training-log.ts';
import { adviseTraining } from '../../../src/training/advice.ts';
import { createLocalTime, hubTimeZone } from '../../base/local-time.ts';
import type { StoredDocument } from '../../base/ports/documents.ts';
import { refusals } from '../../live/refusals.ts';
import { runsOfAthlete } from '../../plans/athlete-runs.ts';
import { trainingSessionsOf } from '../../plans/training-history.ts';
import { detailsOf } from '../../recordings/session-details.ts';
import { checkBody, type RouteModule, sendRefusal } from '../route.ts';

const unknownEntry = {
  code: 'notFound',
  said: said('refusal.unknownEntry'),
} as const;
/** The rows of the table look back five weeks at most, each by its own limit. */
const advisedOnMs = 36 * 86_400_000;
const mostEntriesOfAthlete = 5_000;

const entryOf = (document: StoredDocument): TrainingEntry | undefined => {
  const parsed = trainingEntrySchema.safeParse(document.body);
  return parsed.success ? parsed.data : undefined;
};

export const trainingRoutes: RouteModule = (app, { hub, store, planRuns, bin }) => {
  const entriesOf = (athleteId: string): TrainingEntry[] =>
    store
      .listDocuments('training', athleteId)
      .flatMap((document) => entryOf(document) ?? [])
      .toSorted((one, other) => other.startedWallAtMs - one.startedWallAtMs);
  const { offsetMsAt } = createLocalTime(hubTimeZone());
  const localDayOf = (wallMs: number): number => Math.floor((wallMs + offsetMsAt(wallMs)) / 86_400_000);
  const isKnown = (athleteId: string) => hub.athletes.some((athlete) => athlete.athleteId === athleteId);

  app.get<{ Params: { athleteId: string } }>(
    '/api/athletes/:athleteId/training',
    { config: { access: 'athlete' } },
    async (request) => ({ entries: entriesOf(request.params.athleteId) }),
  );

  app.put<{ Params: { athleteId: string; entryId: string } }>(
    '/api/athletes/:athleteId/training/:entryId',
    { config: { access: 'athlete' } },
    async (request, reply) => {
      const { athleteId, entryId } = request.params;
      const body = checkBody(trainingRequestSchema, request.body);
      if (!body.ok) {
        const noBuddy = body.refusal.said.params['field'] === 'entry.buddyName';
        return sendRefusal(reply, {
          code: 'badRequest',
          said: noBuddy ? said('refusal.noBuddy') : body.refusal.said,
        });
      }
      const { entry } = body.value;
      if (!isKnown(athleteId)) return sendRefusal(reply, refusals.unknownAthlete);
      if (entry.athleteId !== athleteId || entry.entryId !== entryId)
        return sendRefusal(reply, { code: 'badRequest', said: said('refusal.entryElsewhere') });
      const before = store.readDocument('training', entryId);
      if (before !== undefined && before.athleteId !== athleteId)
        return sendRefusal(reply, { code: 'notAllowed', said: said('refusal.entryOfAnother') });
      if (before === undefined && store.listDocuments('training', athleteId).length >= mostEntriesOfAthlete)
        return sendRefusal(reply, { code: 'badRequest', said: said('refusal.logFull') });
      // The athlete is the group, so that their log is found without reading everyone's.
      store.saveDocument({
        kind: 'training',
        documentId: entryId,
        groupId: athleteId,
        athleteId,
        body: entry,
      });
      return entry;
    },
  );

  app.delete<{ Params: { athleteId: string; entryId: string } }>(
    '/api/athletes/:athleteId/training/:entryId',
    { config: { access: 'athlete', audit: 'entryDeleted' } },
    async (request, reply) => {
      const { athleteId, entryId } = request.params;
      const document = store.readDocument('training', entryId);
      if (document?.athleteId !== athleteId) return sendRefusal(reply, unknownEntry);
      const ofWallMs = entryOf(document)?.startedWallAtMs ?? null;
      const binId = bin.putDocument('training', entryId, { title: '', ofWallMs });
      if (binId === undefined) return sendRefusal(reply, unknownEntry);
      const body: DeletedBody = { binId };
      return body;
    },
  );

  app.get<{ Params: { athleteId: string } }>(
    '/api/athletes/:athleteId/advice',
    { config: { access: 'athlete' } },
    async (request, reply) => {
      const { athleteId } = request.params;
      if (!isKnown(athleteId)) return sendRefusal(reply, refusals.unknownAthlete);
      const nowWallMs = hub.pageClock.wallNowMs();
      return {
        advice: adviseTraining({
          nowWallMs,
          today: localDayOf(nowWallMs),
          sessions: await trainingSessionsOf(
            {
              store,
              runs: runsOfAthlete(planRuns, athleteId),
              entries: entriesOf(athleteId),
              detailsOf: (sessionId) => detailsOf(store, sessionId, athleteId),
              localDayOf,
              sinceWallMs: nowWallMs - advisedOnMs,
            },
            athleteId,
          ),
        }),
      };
    },
  );
};
