// Joining from other devices: POST /api/join, what this page may do, and a coach's list of devices and codes.

import type { FastifyInstance } from 'fastify';
import { joinCodeRequestSchema, joinRequestSchema } from '../../../shared/http.ts';
import { said } from '../../../shared/said.ts';
import { deviceLifetimeMs, isPageDevice } from '../../devices/join/device-register.ts';
import { qrSvg } from '../../devices/lan/join-qr.ts';
import { accessOfDevice, isFromOwnMachine, tokenCookie, tokenOf } from '../access.ts';
import { auditEntry } from '../audit.ts';
import { RefusedEntries } from '../refused-entries.ts';
import { checkBody, type RouteContext, type RouteModule, sendRefusal } from '../route.ts';

const lanOff = {
  code: 'lanOff',
  said: said('refusal.lanOff'),
} as const;

const unknownRoom = { code: 'badRequest', said: said('refusal.unknownRoom') } as const;

const areRooms = (rooms: readonly string[] | undefined, known: (() => readonly string[]) | null): boolean =>
  rooms === undefined || rooms.every((hub) => known?.().includes(hub) ?? false);

export const joinRoutes: RouteModule = (app, context) => {
  const { devices, lan, audit, clock } = context;
  const refused = new RefusedEntries(audit, clock);
  app.addHook('onClose', async () => refused.close());
  app.post(
    '/api/join',
    // Beside the register's own limit on wrong codes: no device needs more than a few of any kind.
    {
      config: { access: 'anyone', saves: false, rateLimit: { max: 20, timeWindow: 60_000 } },
      bodyLimit: 1_024,
    },
    async (request, reply) => {
      if (isFromOwnMachine(request.raw))
        return sendRefusal(reply, {
          code: 'badRequest',
          said: said('refusal.ownMachineNoCode'),
        });
      const body = checkBody(joinRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const joined = await devices.join({
        code: body.value.code,
        deviceName: body.value.deviceName ?? '',
        address: request.ip,
      });
      if (!joined.ok) {
        refused.add('joinRefused', request.ip);
        return sendRefusal(reply, joined.reason);
      }
      const { device, token } = joined.value;
      // The register gives radios in by their own door alone.
      if (!isPageDevice(device)) throw new Error('unexpected radio');
      // The browser forgets its earlier token now, so nobody needs it any more.
      const earlier = devices.deviceOf(tokenOf(request.raw) ?? '');
      if (earlier !== undefined) await devices.remove(earlier.deviceId);
      audit.append(auditEntry(accessOfDevice(device), 'joined', clock));
      reply.header('set-cookie', tokenCookie(token, deviceLifetimeMs[device.role] / 1_000));
      return { ...accessOfDevice(device), deviceName: device.name };
    },
  );

  app.get('/api/access', { config: { access: 'joined' } }, async ({ access }) => ({
    ...access,
    deviceName: devices.devices().find((device) => device.deviceId === access.deviceId)?.name ?? '',
  }));

  app.post(
    '/api/leave',
    { config: { access: 'joined', saves: false, audit: 'left' } },
    async ({ access }, reply) => {
      if (access.deviceId === null)
        return sendRefusal(reply, {
          code: 'badRequest',
          said: said('refusal.ownMachineStays'),
        });
      const left = await devices.remove(access.deviceId);
      if (!left.ok) return sendRefusal(reply, left.reason);
      return reply.header('set-cookie', tokenCookie('', 0)).code(204).send();
    },
  );

  app.get('/api/devices', { config: { access: 'coach' } }, async () => ({
    devices: devices.devices(),
    codes: devices.openCodes(),
    lan: lan?.view() ?? null,
  }));

  app.delete<{ Params: { deviceId: string } }>(
    '/api/devices/:deviceId',
    { config: { access: 'coach', saves: false, audit: 'deviceRemoved' } },
    async (request, reply) => {
      const removed = await devices.remove(request.params.deviceId);
      return removed.ok ? reply.code(204).send() : sendRefusal(reply, removed.reason);
    },
  );

  joinCodeRoutes(app, context);
};

function joinCodeRoutes(app: FastifyInstance, { devices, lan, hubsOfSchool }: RouteContext): void {
  app.post(
    '/api/join-codes',
    { config: { access: 'coach', saves: false, audit: 'codeMade' } },
    async (request, reply) => {
      if (lan === null) return sendRefusal(reply, lanOff);
      const body = checkBody(joinCodeRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const { role, athleteId = null, rooms } = body.value;
      if (!areRooms(rooms, hubsOfSchool)) return sendRefusal(reply, unknownRoom);
      const made = devices.makeCode(role, athleteId, rooms);
      if (!made.ok) return sendRefusal(reply, made.reason);
      const { view, code } = made.value;
      const joinAddress = lan.joinAddress(code);
      return reply.code(201).send({ ...view, code, joinAddress, qrSvg: qrSvg(joinAddress) });
    },
  );

  app.delete<{ Params: { codeId: string } }>(
    '/api/join-codes/:codeId',
    { config: { access: 'coach', saves: false, audit: 'codeWithdrawn' } },
    async (request, reply) => {
      if (devices.voidCode(request.params.codeId)) return reply.code(204).send();
      return sendRefusal(reply, {
        code: 'notFound',
        said: said('refusal.codeGone'),
      });
    },
  );
}
