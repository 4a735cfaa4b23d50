// /api/sessions: the list of recordings and deleting one.

import type { RouteModule } from '../http-server.ts';
import { sendRefusal } from '../http-server.ts';

export const recordingRoutes: RouteModule = (app, { hub, store }) => {
  app.get('/api/sessions', async () => ({ sessions: store.listSessions() }));

  app.delete<{ Params: { sessionId: string } }>('/api/sessions/:sessionId', async (request, reply) => {
    const { sessionId } = request.params;
    if (hub.session?.sessionId === sessionId) {
      return sendRefusal(reply, {
        code: 'sessionRunning',
        message: 'This session is being recorded. End it first.',
      });
    }
    if (store.readSession(sessionId) === undefined)
      return sendRefusal(reply, { code: 'unknownSession', message: 'There is no such recording.' });
    store.deleteSession(sessionId);
    return reply.code(204).send();
  });
};
