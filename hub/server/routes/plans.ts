// /api/plans: the library of training plans, and each as a file to take to another hub.

import type { DeletedBody } from '../../../shared/bin.ts';
import { type Plan, planRequestSchema, planSchema, type StoredPlan } from '../../../shared/plan.ts';
import { said } from '../../../shared/said.ts';
import { writePlanFile } from '../../../src/plans/plan-file.ts';
import type { StoredDocument } from '../../base/ports/documents.ts';
import { checkBody, type RouteModule, sendRefusal } from '../route.ts';

const unknownPlan = {
  code: 'notFound',
  said: said('refusal.unknownPlan'),
} as const;
const mostPlans = 500;

function planOf(document: StoredDocument): StoredPlan | undefined {
  const { plan, savedWallAtMs } = document.body as { plan?: unknown; savedWallAtMs?: unknown };
  const parsed = planSchema.safeParse(plan);
  if (!parsed.success) return undefined;
  return {
    planId: document.documentId,
    savedWallAtMs: typeof savedWallAtMs === 'number' ? savedWallAtMs : 0,
    plan: parsed.data,
  };
}

export const planRoutes: RouteModule = (app, { hub, store, bin, makeId }) => {
  function save(planId: string, plan: Plan): StoredPlan {
    const savedWallAtMs = hub.pageClock.wallNowMs();
    store.saveDocument({
      kind: 'plan',
      documentId: planId,
      groupId: null,
      athleteId: null,
      body: { plan, savedWallAtMs },
    });
    return { planId, savedWallAtMs, plan };
  }

  app.get('/api/plans', { config: { access: 'joined' } }, async () => ({
    plans: store
      .listDocuments('plan')
      .flatMap((document) => planOf(document) ?? [])
      .toSorted((one, other) => one.plan.title.localeCompare(other.plan.title)),
  }));

  app.post('/api/plans', { config: { access: 'coach' } }, async (request, reply) => {
    const body = checkBody(planRequestSchema, request.body);
    if (!body.ok) return sendRefusal(reply, body.refusal);
    if (store.listDocuments('plan').length >= mostPlans)
      return sendRefusal(reply, {
        code: 'badRequest',
        said: said('refusal.tooManyPlans', { most: mostPlans }),
      });
    return reply.code(201).send(save(makeId(), body.value.plan));
  });

  app.put<{ Params: { planId: string } }>(
    '/api/plans/:planId',
    { config: { access: 'coach' } },
    async (request, reply) => {
      const body = checkBody(planRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      if (store.readDocument('plan', request.params.planId) === undefined)
        return sendRefusal(reply, unknownPlan);
      return save(request.params.planId, body.value.plan);
    },
  );

  app.delete<{ Params: { planId: string } }>(
    '/api/plans/:planId',
    { config: { access: 'coach', audit: 'planDeleted' } },
    async (request, reply) => {
      const { planId } = request.params;
      const document = store.readDocument('plan', planId);
      const title = document === undefined ? '' : (planOf(document)?.plan.title ?? '');
      const binId = bin.putDocument('plan', planId, { title, ofWallMs: null });
      if (binId === undefined) return sendRefusal(reply, unknownPlan);
      const body: DeletedBody = { binId };
      return body;
    },
  );

  app.get<{ Params: { planId: string } }>(
    '/api/plans/:planId/file',
    { config: { access: 'joined' } },
    async (request, reply) => {
      const document = store.readDocument('plan', request.params.planId);
      const stored = document === undefined ? undefined : planOf(document);
      if (stored === undefined) return sendRefusal(reply, unknownPlan);
      const name = stored.plan.title.replaceAll(/[^\p{L}\p{N}]+/gu, '-').replaceAll(/^-|-$/g, '') || 'plan';
      return reply
        .header('content-type', 'application/json; charset=utf-8')
        .header(
          'content-disposition',
          `attachment; filename="plan.json"; filename*=UTF-8''${encodeURIComponent(name)}.plan.json`,
        )
        .send(writePlanFile(stored.plan));
    },
  );
};
