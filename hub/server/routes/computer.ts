// POST /api/computer/checks: looks at the computer under the hub, for coaches. The checks run beside the hub, one run at a
// time for all who ask.

import type { ComputerChecksBody } from '../../../shared/computer-checks.ts';
import { said } from '../../../shared/said.ts';
import { wallMs } from '../../../shared/units.ts';
import { type RouteModule, sendRefusal } from '../route.ts';

export const computerRoutes: RouteModule = (app, { hub, clock, checkComputer }) => {
  let underWay: ReturnType<NonNullable<typeof checkComputer>> | undefined;

  app.post(
    '/api/computer/checks',
    { config: { access: 'coach', saves: false, rateLimit: { max: 12, timeWindow: 60_000 } } },
    async (_request, reply) => {
      if (checkComputer === null)
        return sendRefusal(reply, { code: 'notFound', said: said('refusal.noChecks') });
      // Whoever asks meanwhile is answered by the run that goes on.
      underWay ??= checkComputer({ measuresDisk: hub.session === null }).finally(() => {
        underWay = undefined;
      });
      const findings = await underWay;
      if (!findings.ok) return sendRefusal(reply, { code: 'internal', said: findings.reason });
      const body: ComputerChecksBody = {
        checkedWallAtMs: wallMs(clock.wallNowMs()),
        findings: [...findings.value],
      };
      return body;
    },
  );
};
