// /api/sensors: what the hub sees, and whose each sensor is.

import { assignSensorRequestSchema } from '../../../shared/http.ts';
import { checkBody, type RouteModule, sendRefusal } from '../route.ts';
import { visibleSensors } from '../visible-part.ts';

export const sensorRoutes: RouteModule = (app, { hub, feed }) => {
  app.get('/api/sensors', { config: { access: 'joined' } }, async ({ access }) => {
    const { sensors, notices } = feed.sensors();
    return { sensors: visibleSensors(access, sensors), notices };
  });

  app.put<{ Params: { sensorId: string } }>(
    '/api/sensors/:sensorId/athlete',
    { config: { access: 'coach' } },
    async (request, reply) => {
      const body = checkBody(assignSensorRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const assigned = hub.assignSensor(request.params.sensorId, body.value.athleteId);
      return assigned.ok ? reply.code(204).send() : sendRefusal(reply, assigned.reason);
    },
  );
};
