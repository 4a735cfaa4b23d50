// /api/profiles and /api/bench: profiles of sensors with a protocol of their own, and a look at what such a sensor sends. Coaches
// alone: a wrong profile makes wrong readings.

import { said } from '../../../shared/said.ts';
import {
  type BenchBody,
  type BenchSensor,
  examineRequestSchema,
  type FormerProfilesBody,
  type ProfilesBody,
  saveProfileRequestSchema,
} from '../../../shared/sensor-profiles.ts';
import { wallMs } from '../../../shared/units.ts';
import { hexOf } from '../../../src/profiles/capture-file.ts';
import { parseProfile } from '../../../src/profiles/profile-file.ts';
import type { SensorStatus } from '../../base/ports/sensor-source.ts';
import { clashSaid, isProfileFile } from '../../sensors/bluetooth/profile-shelf.ts';
import { checkBody, type RouteContext, type RouteModule, sendRefusal } from '../route.ts';

type File = { Params: { file: string } };

const noShelf = { code: 'notFound', said: said('refusal.nothingHere') } as const;
const badName = { code: 'badRequest', said: said('bench.badFile') } as const;

export const sensorProfileRoutes: RouteModule = (app, context) => {
  const { profileShelf: shelf, sensorBench } = context;

  app.get('/api/profiles', { config: { access: 'coach' } }, async () => {
    const body: ProfilesBody = {
      profiles: (shelf?.list ?? []).map(({ file, text, profile, clash }) => ({
        file,
        text,
        isGood: profile !== null && clash === null,
      })),
      waits: shelf?.isWaiting ?? false,
      hasBench: sensorBench !== null,
    };
    return body;
  });

  app.get<File>('/api/profiles/:file/former', { config: { access: 'coach' } }, async (request, reply) => {
    const { file } = request.params;
    if (shelf === null) return sendRefusal(reply, noShelf);
    if (!isProfileFile(file)) return sendRefusal(reply, badName);
    const former = await shelf.former(file);
    const body: FormerProfilesBody = {
      former: former.map(({ text, replacedWallAtMs }) => ({
        text,
        replacedWallAtMs: wallMs(replacedWallAtMs),
      })),
    };
    return body;
  });

  app.put<File>(
    '/api/profiles/:file',
    { config: { access: 'coach', audit: 'profileSaved', saves: false } },
    async (request, reply) => {
      const { file } = request.params;
      if (shelf === null) return sendRefusal(reply, noShelf);
      if (!isProfileFile(file)) return sendRefusal(reply, badName);
      const body = checkBody(saveProfileRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const parsed = parseProfile(body.value.text);
      if (!parsed.ok) {
        const { line, column, place, reason } = parsed.reason[0]!;
        const where = place === '' ? `${line}:${column}` : `${line}:${column} ${place}`;
        return sendRefusal(reply, { code: 'badRequest', said: said('bench.notInOrder', { where, reason }) });
      }
      const clash = shelf.clashOf(file, parsed.value);
      if (clash !== null) {
        const refused = said('bench.notInOrder', { where: 'link.notify', reason: clashSaid(clash) });
        return sendRefusal(reply, { code: 'badRequest', said: refused });
      }
      await shelf.save(file, body.value.text);
      return reply.code(204).send();
    },
  );

  app.delete<File>(
    '/api/profiles/:file',
    { config: { access: 'coach', audit: 'profileRemoved', saves: false } },
    async (request, reply) => {
      const { file } = request.params;
      if (shelf === null || !isProfileFile(file)) return sendRefusal(reply, noShelf);
      await shelf.remove(file);
      return reply.code(204).send();
    },
  );

  benchRoutes(app, context);
};

const benchRoutes: RouteModule = (app, context) => {
  const { sensorBench: bench } = context;

  app.post('/api/bench/around', { config: { access: 'coach', saves: false } }, async (_request, reply) => {
    if (bench === null) return sendRefusal(reply, noShelf);
    return { sensors: bench.around().map((status) => benchSensor(context, status)) };
  });

  app.put('/api/bench', { config: { access: 'coach', saves: false } }, async (request, reply) => {
    if (bench === null) return sendRefusal(reply, noShelf);
    const body = checkBody(examineRequestSchema, request.body);
    if (!body.ok) return sendRefusal(reply, body.refusal);
    const { sensorId, profileText } = body.value;
    const parsed = profileText === null ? null : parseProfile(profileText);
    const begun = bench.examine(sensorId, parsed?.ok === true ? parsed.value : null);
    return begun.ok ? reply.code(204).send() : sendRefusal(reply, { code: 'badRequest', said: begun.reason });
  });

  app.get<{ Querystring: { after?: string } }>(
    '/api/bench',
    { config: { access: 'coach' } },
    async ({ query }) => {
      const view = bench?.view(Number(query.after ?? 0) || 0) ?? null;
      const body: BenchBody = {
        examined:
          view === null
            ? null
            : {
                sensor: benchSensor(context, view.status),
                characteristics: view.characteristics.map(({ service, characteristic, properties }) => ({
                  service,
                  characteristic,
                  properties: [...properties],
                })),
                packets: view.packets.map(({ bytes, ...packet }) => ({ ...packet, hex: hexOf(bytes) })),
              },
      };
      return body;
    },
  );

  app.delete('/api/bench', { config: { access: 'coach', saves: false } }, async (_request, reply) => {
    bench?.end();
    return reply.code(204).send();
  });
};

const benchSensor = ({ hub }: RouteContext, status: SensorStatus): BenchSensor => {
  const { sensorId, name, kinds, rssiDbm, link, detail } = status;
  const isWorn = hub.sensors.some((sensor) => sensor.sensorId === sensorId && sensor.athleteId !== null);
  return { sensorId, name, kinds, rssiDbm, link, detail, isWorn };
};
