// /api/plan-runs: starting a plan, following it, tapping during it, and what was planned beside what happened.

import { planRunEventRequestSchema, planRunRequestSchema } from '../../../shared/plan-run.ts';
import { checkBody, type RouteModule, sendRefusal } from '../http-server.ts';

export const planRunRoutes: RouteModule = (app, { planRuns }) => {
  app.addHook('onReady', async () => planRuns.open());
  app.addHook('onClose', async () => planRuns.close());

  app.get('/api/plan-runs', async () => ({ runs: planRuns.list() }));

  app.post('/api/plan-runs', async (request, reply) => {
    const body = checkBody(planRunRequestSchema, request.body);
    if (!body.ok) return sendRefusal(reply, body.refusal);
    const { plan, options, longestHoldMs } = body.value;
    const started = planRuns.start(plan, options, longestHoldMs);
    if (started.ok) return reply.code(201).send(started.value);
    const { code, message, warnings } = started.reason;
    if (warnings === undefined) return sendRefusal(reply, started.reason);
    return reply.code(409).send({
      code,
      message,
      warnings: warnings.map((warning) => ({ code: warning.code, message: warning.message })),
    });
  });

  app.get<{ Querystring: { since?: string } }>('/api/plan-runs/current', async (request) => {
    const since = Number(request.query.since ?? 0);
    return planRuns.current(Number.isInteger(since) ? since : 0);
  });

  app.post('/api/plan-runs/current/events', async (request, reply) => {
    const body = checkBody(planRunEventRequestSchema, request.body);
    if (!body.ok) return sendRefusal(reply, body.refusal);
    const taken = planRuns.tap(body.value.event);
    return taken.ok ? reply.code(204).send() : sendRefusal(reply, taken.reason);
  });

  app.get<{ Params: { runId: string } }>('/api/plan-runs/:runId', async (request, reply) => {
    const run = planRuns.read(request.params.runId);
    return (
      run ??
      sendRefusal(reply, { code: 'notFound', message: 'There is no such run; it may have been deleted.' })
    );
  });

  app.delete<{ Params: { runId: string } }>('/api/plan-runs/:runId', async (request, reply) => {
    const removed = planRuns.remove(request.params.runId);
    return removed.ok ? reply.code(204).send() : sendRefusal(reply, removed.reason);
  });
};
