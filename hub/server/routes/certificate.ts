// What the hub says of its certificate, and its authority's certificate as a file to install. For whoever reaches the hub: a
// certificate is no secret, and who is about to join compares it before.

import type { HubCertificate } from '../../../shared/http.ts';
import { said } from '../../../shared/said.ts';
import { authorityFile, isAuthorityFileForm } from '../../devices/certificate/authority-files.ts';
import { readerLanguage, sayFor } from '../reader-language.ts';
import { type RouteModule, sendRefusal } from '../route.ts';

export const certificateRoutes: RouteModule = (app, { lan }) => {
  app.get('/api/hub-certificate', { config: { access: 'anyone' } }, async (_request, reply) => {
    if (lan === null) return sendRefusal(reply, { code: 'lanOff', said: said('refusal.lanOff') });
    const { fingerprintSha256, comparisonCode, signedBy, authority } = lan.view();
    const body: HubCertificate = { fingerprintSha256, comparisonCode, signedBy, authority };
    return body;
  });

  app.get<{ Params: { form: string } }>(
    '/api/authority/:form',
    { config: { access: 'anyone' } },
    async (request, reply) => {
      const { form } = request.params;
      const authority = lan?.credentials.authority;
      if (authority === undefined || !isAuthorityFileForm(form))
        return sendRefusal(reply, { code: 'notFound', said: said('refusal.noAuthority') });
      const say = sayFor(readerLanguage(request));
      const { name, contentType, bytes } = authorityFile(form, authority.certificatePem, {
        title: say(said('authority.profileTitle')),
        description: say(said('authority.profileText')),
      });
      return reply
        .header('content-type', contentType)
        .header('content-disposition', `attachment; filename="${name}"`)
        .send(bytes);
    },
  );
};
