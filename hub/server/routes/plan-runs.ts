// /api/plan-runs: starting a plan, following it, tapping during it, and what was planned beside what happened.

import type { FastifyReply } from 'fastify';
import type { DeletedBody } from '../../../shared/bin.ts';
import { planRunEventRequestSchema, planRunRequestSchema } from '../../../shared/plan-run.ts';
import { said } from '../../../shared/said.ts';
import { maySee, maySeeSession, type PageAccess } from '../access.ts';
import { readerLanguage } from '../reader-language.ts';
import { bodyOfRefusal, checkBody, type RouteModule, sendRefusal } from '../route.ts';
import { maySeeWholeRun, visiblePlanRun, visibleRunHead, visibleStoredRun } from '../visible-plan-run.ts';

const own = { config: { access: 'athlete' } } as const;
const forOthers = (reply: FastifyReply) =>
  sendRefusal(reply, {
    code: 'notAllowed',
    said: said('refusal.othersInPlan'),
  });
/** What an event that a page sends is about: its own athlete, or everyone in the run. */
const isOwnEvent = (access: PageAccess, athleteId: string | null, wholeRun: boolean): boolean =>
  athleteId === null ? wholeRun : maySee(access, athleteId);

export const planRunRoutes: RouteModule = (app, { planRuns, bin }) => {
  app.get('/api/plan-runs', own, async (request) => ({
    runs: planRuns
      .list()
      .filter(({ sessionId }) => maySeeSession(request.access, sessionId))
      .flatMap((run) => visibleRunHead(request.access, run) ?? []),
  }));

  app.post('/api/plan-runs', own, async (request, reply) => {
    const body = checkBody(planRunRequestSchema, request.body);
    if (!body.ok) return sendRefusal(reply, body.refusal);
    const { plan, options, longestHoldMs } = body.value;
    if (!options.athletes.every(({ athleteId }) => maySee(request.access, athleteId)))
      return forOthers(reply);
    const started = planRuns.start(plan, options, longestHoldMs);
    if (started.ok) return reply.code(201).send(started.value);
    const { warnings } = started.reason;
    if (warnings === undefined) return sendRefusal(reply, started.reason);
    return reply.code(409).send({
      ...bodyOfRefusal(started.reason, readerLanguage(request)),
      warnings: warnings.map((warning) => ({ code: warning.code, said: warning.said })),
    });
  });

  app.get<{ Querystring: { since?: string } }>(
    '/api/plan-runs/current',
    { config: { access: 'joined' } },
    async (request) => {
      const since = Number(request.query.since ?? 0);
      return visiblePlanRun(request.access, planRuns.current(0), Number.isInteger(since) ? since : 0);
    },
  );

  app.post('/api/plan-runs/current/events', own, async (request, reply) => {
    const body = checkBody(planRunEventRequestSchema, request.body);
    if (!body.ok) return sendRefusal(reply, body.refusal);
    const { event } = body.value;
    const { run } = planRuns.current(0);
    const wholeRun = run !== null && maySeeWholeRun(request.access, run);
    if (!isOwnEvent(request.access, 'athleteId' in event ? event.athleteId : null, wholeRun))
      return forOthers(reply);
    const taken = planRuns.tap(event);
    return taken.ok ? reply.code(204).send() : sendRefusal(reply, taken.reason);
  });

  app.post('/api/plan-runs/current/take-back-end', own, async (request, reply) => {
    const { run } = planRuns.current(0);
    if (run !== null && !maySeeWholeRun(request.access, run)) return forOthers(reply);
    const taken = planRuns.takeBackEnd();
    return taken.ok ? reply.code(204).send() : sendRefusal(reply, taken.reason);
  });

  app.get<{ Params: { runId: string } }>('/api/plan-runs/:runId', own, async (request, reply) => {
    const run = planRuns.read(request.params.runId);
    if (run === undefined)
      return sendRefusal(reply, { code: 'notFound', said: said('refusal.unknownPlanRun') });
    return visibleStoredRun(request.access, run) ?? forOthers(reply);
  });

  app.delete<{ Params: { runId: string } }>(
    '/api/plan-runs/:runId',
    { config: { access: 'coach', audit: 'planRunDeleted' } },
    async (request, reply) => {
      const { runId } = request.params;
      const free = planRuns.letGo(runId);
      if (!free.ok) return sendRefusal(reply, free.reason);
      const { plan, startedWallAtMs } = free.value;
      const binId = bin.putDocument('planRun', runId, { title: plan.title, ofWallMs: startedWallAtMs });
      if (binId === undefined)
        return sendRefusal(reply, { code: 'notFound', said: said('refusal.unknownPlanRun') });
      const body: DeletedBody = { binId };
      return body;
    },
  );
};
