// /api/sensors: what the hub sees, and whose each sensor is.

import { assignSensorRequestSchema, assignSensorsRequestSchema } from '../../../shared/http.ts';
import { checkBody, type RouteModule, sendRefusal } from '../route.ts';
import { visibleSensors } from '../visible-part.ts';

export const sensorRoutes: RouteModule = (app, { hub, feed }) => {
  app.get('/api/sensors', { config: { access: 'joined' } }, async ({ access }) => {
    const { sensors, notices } = feed.sensors();
    return { sensors: visibleSensors(access, sensors), notices };
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

  app.put('/api/sensors', { config: { access: 'coach', audit: 'sensorMoved' } }, async (request, reply) => {
    const body = checkBody(assignSensorsRequestSchema, request.body);
    if (!body.ok) return sendRefusal(reply, body.refusal);
    const assigned = hub.assignSensors(body.value.assignments, request.access.deviceName);
    return assigned.ok ? reply.code(204).send() : sendRefusal(reply, assigned.reason);
  });
};
