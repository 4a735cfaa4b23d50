// POST /api/own-person: a browser on the hub's own machine that came by a link from its terminal gets its cookie.

import { ownPersonRequestSchema } from '../../../shared/http.ts';
import { said } from '../../../shared/said.ts';
import { ownTokenLifetimeMs } from '../../devices/own-person/own-person.ts';
import { isOtherUser, userOfPeer } from '../../devices/own-person/peer-user.ts';
import { isFromOwnMachine, ownCookie, ownMachineAccess } from '../access.ts';
import { auditEntry } from '../audit.ts';
import { RefusedEntries } from '../refused-entries.ts';
import { checkBody, type RouteModule, sendRefusal } from '../route.ts';

export const ownPersonRoutes: RouteModule = (app, { ownPerson, log, audit, clock }) => {
  const refused = new RefusedEntries(audit, clock);
  app.addHook('onClose', async () => refused.close());
  app.post(
    '/api/own-person',
    {
      config: { access: 'anyone', saves: false, rateLimit: { max: 60, timeWindow: 60_000 } },
      bodyLimit: 1_024,
    },
    async (request, reply) => {
      if (!isFromOwnMachine(request.raw))
        return sendRefusal(reply, { code: 'notAllowed', said: said('refusal.linkOfOwnMachine') });
      const body = checkBody(ownPersonRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const { remotePort = 0, localPort = 0 } = request.raw.socket;
      const token = ownPerson.enter(body.value.code, () => {
        const isOther = isOtherUser(userOfPeer(remotePort, localPort));
        if (isOther) log.warn('another user of this machine tried the code of its own browser');
        return isOther;
      });
      if (token === undefined) {
        refused.add('ownPersonRefused', request.ip);
        return sendRefusal(reply, { code: 'codeRefused', said: said('refusal.linkOld') });
      }
      audit.append(auditEntry(ownMachineAccess, 'ownPersonEntered', clock));
      return reply
        .header('set-cookie', ownCookie(ownPerson, token, ownTokenLifetimeMs / 1_000))
        .code(204)
        .send();
    },
  );
};
