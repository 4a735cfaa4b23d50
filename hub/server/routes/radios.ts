// Radios: which there are, for a coach; joining from a computer in another room; and sensors that are known by another address.

import {
  joinRequestSchema,
  type RadioJoined,
  type RadiosBody,
  sameSensorRequestSchema,
} from '../../../shared/http.ts';
import { nobody } from '../access.ts';
import { auditEntry } from '../audit.ts';
import { RefusedEntries } from '../refused-entries.ts';
import { checkBody, type RouteModule, sendRefusal } from '../route.ts';

export const radioRoutes: RouteModule = (app, { hub, devices, audit, clock }) => {
  const refused = new RefusedEntries(audit, clock);
  app.addHook('onClose', async () => refused.close());

  app.get(
    '/api/radios',
    { config: { access: 'coach' } },
    async (): Promise<RadiosBody> => ({
      radios: hub.radios.map((radio) => ({ ...radio, sensorIds: [...radio.sensorIds] })),
      sameSensors: [...hub.sameSensors],
    }),
  );

  app.put<{ Params: { sensorId: string } }>(
    '/api/sensors/:sensorId/same',
    { config: { access: 'coach', saves: false, audit: 'sensorMoved' } },
    async (request, reply) => {
      const body = checkBody(sameSensorRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const said = hub.setSameSensor(request.params.sensorId, body.value.as);
      return said.ok ? reply.code(204).send() : sendRefusal(reply, said.reason);
    },
  );

  app.post(
    '/api/radio/join',
    {
      config: { access: 'anyone', saves: false, rateLimit: { max: 20, timeWindow: 60_000 } },
      bodyLimit: 1_024,
    },
    async (request, reply) => {
      const body = checkBody(joinRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const { code, deviceName = '' } = body.value;
      const joined = await devices.join({ code, deviceName, address: request.ip, asRadio: true });
      if (!joined.ok) {
        refused.add('joinRefused', request.ip);
        return sendRefusal(reply, joined.reason);
      }
      const { device, token } = joined.value;
      const { deviceId, name, role } = device;
      audit.append({ ...auditEntry(nobody, 'joined', clock), device: { deviceId, name, role } });
      return { deviceId, token } satisfies RadioJoined;
    },
  );
};
