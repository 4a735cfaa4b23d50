// /api/sensors: what the hub sees, and whose each sensor is.

import type { AnsweringBody } from '../../../shared/course.ts';
import {
  answerPairingRequestSchema,
  assignSensorRequestSchema,
  assignSensorsRequestSchema,
} from '../../../shared/http.ts';
import { checkBody, type RouteModule, sendRefusal } from '../route.ts';
import { visibleSensors } from '../visible-part.ts';

export const sensorRoutes: RouteModule = (app, { hub }) => {
  const answering = (): AnsweringBody => {
    const states = hub.answering.states(hub.clock.nowMs());
    return {
      sensors: states === null ? null : [...states].map(([sensorId, state]) => ({ sensorId, state })),
    };
  };

  app.get('/api/sensors', { config: { access: 'joined' } }, async ({ access }) => {
    const { sensors, notices } = hub;
    return { sensors: visibleSensors(access, sensors), notices: notices.all };
  });

  app.put<{ Params: { sensorId: string } }>(
    '/api/sensors/:sensorId/athlete',
    { config: { access: 'coach', audit: 'sensorMoved' } },
    async (request, reply) => {
      const body = checkBody(assignSensorRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const assigned = hub.assignSensor(
        request.params.sensorId,
        body.value.athleteId,
        request.access.deviceName,
      );
      return assigned.ok ? reply.code(204).send() : sendRefusal(reply, assigned.reason);
    },
  );

  app.post<{ Params: { sensorId: string } }>(
    '/api/sensors/:sensorId/pairing',
    { config: { access: 'coach', audit: 'sensorPaired' } },
    async (request, reply) => {
      const body = checkBody(answerPairingRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      hub.answerPairing(request.params.sensorId, body.value.requestId, body.value.answer);
      return reply.code(204).send();
    },
  );

  app.delete<{ Params: { sensorId: string } }>(
    '/api/sensors/:sensorId/bond',
    { config: { access: 'coach', audit: 'bondForgotten' } },
    async (request, reply) => {
      hub.forgetBond(request.params.sensorId);
      return reply.code(204).send();
    },
  );

  app.get('/api/sensors/answering', { config: { access: 'coach' } }, async () => answering());

  app.post('/api/sensors/answering', { config: { access: 'coach' } }, async () => {
    hub.answering.ask(hub.clock.nowMs());
    return answering();
  });

  app.put('/api/sensors', { config: { access: 'coach', audit: 'sensorMoved' } }, async (request, reply) => {
    const body = checkBody(assignSensorsRequestSchema, request.body);
    if (!body.ok) return sendRefusal(reply, body.refusal);
    const assigned = hub.assignSensors(body.value.assignments, request.access.deviceName);
    return assigned.ok ? reply.code(204).send() : sendRefusal(reply, assigned.reason);
  });
};
