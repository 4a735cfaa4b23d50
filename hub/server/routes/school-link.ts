// GET /api/school-link: how a hub stands with its school: what does not reach it, since when and why.

import type { SchoolLinkBody } from '../../../shared/school/pages.ts';
import type { RouteModule } from '../route.ts';

export const schoolLinkRoutes: RouteModule = (app, { schoolLink }) => {
  app.get(
    '/api/school-link',
    { config: { access: 'coach' } },
    async (): Promise<SchoolLinkBody> => ({ school: schoolLink() }),
  );
};
