// GET /metrics, in the OpenMetrics text format (openmetrics.io, 1.0): how the hub does, for whoever watches over the
// computer it runs on. From this computer only, and nothing of any person: no names, no readings.

import { monitorEventLoopDelay } from 'node:perf_hooks';
import { Counter, Gauge, Registry } from 'prom-client';
import { said } from '../../../shared/said.ts';
import { isFromOwnMachine } from '../access.ts';
import { type RouteModule, sendRefusal } from '../route.ts';

export const metricRoutes: RouteModule = (app, { hub, hubVersion, clock }) => {
  const registry = new Registry<typeof Registry.OPENMETRICS_CONTENT_TYPE>();
  registry.setContentType(Registry.OPENMETRICS_CONTENT_TYPE);
  const registers = [registry] as never;
  const delay = monitorEventLoopDelay();
  delay.enable();
  const startedAtMs = clock.nowMs();

  const gauge = (name: string, help: string, valueOf: () => number): void => {
    new Gauge({
      name: `slackwater_${name}`,
      help,
      registers,
      collect() {
        this.set(valueOf());
      },
    });
  };
  new Gauge({ name: 'slackwater_build', help: 'Its version, as a label', labelNames: ['version'], registers }).set(
    { version: hubVersion },
    1,
  );
  gauge('up_seconds', 'Since the hub started', () => (clock.nowMs() - startedAtMs) / 1_000);
  gauge('session_running', '1 while a session is recorded', () => (hub.session === null ? 0 : 1));
  gauge('athletes_monitored', 'Athletes in the session that runs', () => hub.session?.athleteIds.length ?? 0);
  gauge('session_unwatched_seconds', 'Of the session that runs, nobody was watched for', () =>
    (hub.session?.unwatched ?? []).reduce((sum, { fromMs, toMs }) => sum + (toMs - fromMs) / 1_000, 0),
  );
  gauge('event_loop_delay_seconds', 'Longest wait of the thread of the alarms since it was last asked', () => {
    const longestMs = delay.max / 1e6;
    delay.reset();
    // Nothing measured yet.
    return Number.isFinite(longestMs) ? longestMs / 1_000 : 0;
  });
  gauge('resident_memory_bytes', 'Memory of the process of the hub', () => process.memoryUsage.rss());
  gauge('notices', 'Notices that nobody has read', () => hub.notices.list.length);

  const labelled = (
    name: string,
    help: string,
    labelNames: readonly string[],
    counted: () => readonly Readonly<Record<string, string>>[],
  ): void => {
    new Gauge({
      name: `slackwater_${name}`,
      help,
      labelNames: [...labelNames],
      registers,
      collect() {
        this.reset();
        for (const labels of counted()) this.inc({ ...labels }, 1);
      },
    });
  };
  labelled('sensors', 'Sensors known, by their link', ['link'], () => hub.sensors.map(({ link }) => ({ link })));
  labelled('alarms', 'Alarms of athletes that stand', ['kind', 'priority', 'acknowledged'], () =>
    (hub.session?.athleteIds ?? []).flatMap((athleteId) =>
      (hub.snapshotOf(athleteId)?.alarms ?? []).map(({ kind, priority, acknowledged }) => ({
        kind,
        priority,
        acknowledged: String(acknowledged),
      })),
    ),
  );
  labelled('supervision_alarms', 'Alarms of the watching itself that stand', ['kind', 'priority'], () =>
    hub.supervision.map(({ kind, priority }) => ({ kind, priority })),
  );

  const packets = new Counter({ name: 'slackwater_packets', help: 'Packets taken from sensors', registers });
  const raised = new Counter({
    name: 'slackwater_alarms_raised',
    help: 'Alarms of athletes raised since the hub started',
    labelNames: ['kind', 'priority'],
    registers,
  });
  const known = new Set<string>();
  const stop = hub.subscribe((event) => {
    if (event.type === 'packet') packets.inc();
    if (event.type === 'sessionStarted') known.clear();
    if (event.type !== 'alarms') return;
    for (const { alarmId, kind, priority } of event.alarms) {
      if (known.has(alarmId)) continue;
      known.add(alarmId);
      raised.inc({ kind, priority });
    }
  });
  app.addHook('onClose', async () => {
    stop();
    delay.disable();
    registry.clear();
  });

  app.get('/metrics', { config: { access: 'anyone' } }, async (request, reply) => {
    // Not for joined devices: how the hub does is its computer's matter.
    if (!isFromOwnMachine(request.raw))
      return sendRefusal(reply, { code: 'notFound', said: said('refusal.nothingHere') });
    return reply
      .header('cache-control', 'no-store')
      .type(registry.contentType)
      .send(await registry.metrics());
  });
};
