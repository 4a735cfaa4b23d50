// GET /metrics, in the OpenMetrics text format (openmetrics.io, 1.0): how the hub does, for whoever watches over the
// computer it runs on. From this computer only, and nothing of any person: no names, no readings. Not translated: the help
// texts are for programs.

import { monitorEventLoopDelay } from 'node:perf_hooks';
import { Counter, Gauge, Registry } from 'prom-client';
import { said } from '../../../shared/said.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { Hub } from '../../live/hub.ts';
import { isFromOwnMachine } from '../access.ts';
import { type RouteContext, type RouteModule, sendRefusal } from '../route.ts';

type OpenMetricsRegistry = Registry<typeof Registry.OPENMETRICS_CONTENT_TYPE>;

/** What a server has beside a hub's own figures. */
export type AddMetrics = (add: Gauges) => void;

export const metricRoutes =
  (addMore?: AddMetrics): RouteModule =>
  (app, { hub, hubVersion, clock, schoolLink }) => {
    const registry: OpenMetricsRegistry = new Registry();
    registry.setContentType(Registry.OPENMETRICS_CONTENT_TYPE);
    const startedAtMs = clock.nowMs();
    const add = gaugesIn(registry);
    add.labelled('build', 'Its version, as a label', ['version'], () => [{ version: hubVersion }]);
    add.plain('up_seconds', 'Since the hub started', () => (clock.nowMs() - startedAtMs) / 1_000);
    add.plain('resident_memory_bytes', 'Memory of the process of the hub', () => process.memoryUsage.rss());
    const stopMeasuring = addDelay(add);
    addSession(add, hub);
    addSchool(add, schoolLink, clock);
    addMore?.(add);
    const stopCounting = countEvents(registry, hub);
    app.addHook('onClose', async () => {
      stopCounting();
      stopMeasuring();
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

/** The library's types know its other format only; both are given to it in the same way. */
const registersOf = (registry: OpenMetricsRegistry): Registry[] => [registry as unknown as Registry];

type Labels = Readonly<Record<string, string>>;

type Read<Value> = () => Value | Promise<Value>;

export interface Gauges {
  /** Left out while it is not known. */
  plain(name: string, help: string, read: Read<number | null | undefined>): void;
  /** As many as there are with the same labels. */
  labelled(name: string, help: string, labelNames: readonly string[], read: () => readonly Labels[]): void;
  /** One for each label; left out while it is not known. */
  byLabel(
    name: string,
    help: string,
    labelName: string,
    read: Read<readonly { readonly label: string; readonly value: number | null }[]>,
  ): void;
  /** What has been counted since the program began, by label. */
  counter(name: string, help: string, labelName: string, read: () => Readonly<Record<string, number>>): void;
}

function gaugesIn(registry: OpenMetricsRegistry): Gauges {
  const registers = registersOf(registry);
  return {
    plain(name, help, read) {
      new Gauge({
        name: `slackwater_${name}`,
        help,
        registers,
        async collect() {
          const value = await read();
          if (typeof value === 'number') this.set(value);
          else this.remove();
        },
      });
    },
    labelled(name, help, labelNames, read) {
      new Gauge({
        name: `slackwater_${name}`,
        help,
        labelNames: [...labelNames],
        registers,
        collect() {
          this.reset();
          for (const labels of read()) this.inc({ ...labels }, 1);
        },
      });
    },
    byLabel(name, help, labelName, read) {
      new Gauge({
        name: `slackwater_${name}`,
        help,
        labelNames: [labelName],
        registers,
        async collect() {
          const rows = await read();
          this.reset();
          for (const { label, value } of rows) if (value !== null) this.set({ [labelName]: label }, value);
        },
      });
    },
    counter(name, help, labelName, read) {
      new Counter({
        name: `slackwater_${name}`,
        help,
        labelNames: [labelName],
        registers,
        collect() {
          this.reset();
          for (const [label, count] of Object.entries(read())) this.inc({ [labelName]: label }, count);
        },
      });
    },
  };
}

/** Until the returned function is called. */
function addDelay(add: Gauges): () => void {
  const delay = monitorEventLoopDelay();
  delay.enable();
  add.plain('event_loop_delay_seconds', 'Longest wait of the thread of the alarms since last asked', () => {
    const longestMs = delay.max / 1e6;
    delay.reset();
    // Nothing measured yet.
    return Number.isFinite(longestMs) ? longestMs / 1_000 : 0;
  });
  return () => delay.disable();
}

function addSession(add: Gauges, hub: Hub): void {
  add.plain('session_running', '1 while a session is recorded', () => (hub.session === null ? 0 : 1));
  add.plain(
    'athletes_monitored',
    'Athletes in the session that runs',
    () => hub.session?.athleteIds.length ?? 0,
  );
  add.plain('session_unwatched_seconds', 'Of the session that runs, nobody was watched for', () =>
    (hub.session?.unwatched ?? []).reduce((sum, { fromMs, toMs }) => sum + (toMs - fromMs) / 1_000, 0),
  );
  add.plain('notices', 'Notices that nobody has read', () => hub.notices.list.length);
  add.labelled('sensors', 'Sensors known, by their link', ['link'], () =>
    hub.sensors.map(({ link }) => ({ link })),
  );
  add.labelled('alarms', 'Alarms of athletes that stand', ['kind', 'priority', 'acknowledged'], () =>
    (hub.session?.athleteIds ?? []).flatMap((athleteId) =>
      (hub.snapshotOf(athleteId)?.alarms ?? []).map(({ kind, priority, acknowledged }) => ({
        kind,
        priority,
        acknowledged: String(acknowledged),
      })),
    ),
  );
  add.labelled('supervision_alarms', 'Alarms of the watching itself that stand', ['kind', 'priority'], () =>
    hub.supervision.map(({ kind, priority }) => ({ kind, priority })),
  );
}

/** Zeros where a hub sends to no school: a name that comes and goes cannot be watched. */
function addSchool(add: Gauges, schoolLink: RouteContext['schoolLink'], clock: Clock): void {
  add.labelled(
    'school_link',
    'How the hub stands with its school; nothing where it has none',
    ['link'],
    () => {
      const school = schoolLink();
      return school === null ? [] : [{ link: school.link }];
    },
  );
  add.plain(
    'school_not_sending_seconds',
    'Since when nothing reaches the school; 0 while all is well',
    () => {
      const since = schoolLink()?.fault?.sinceWallMs;
      return since === undefined ? 0 : Math.max(0, (clock.wallNowMs() - since) / 1_000);
    },
  );
  add.plain(
    'school_set_aside',
    'Kinds of things that cannot be sent while others are',
    () => schoolLink()?.setAside.length ?? 0,
  );
  add.plain(
    'school_waiting_recordings',
    'Recordings that are not sent whole yet',
    () => schoolLink()?.waitingCount ?? 0,
  );
}

/** Until the returned function is called. */
function countEvents(registry: OpenMetricsRegistry, hub: Hub): () => void {
  const registers = registersOf(registry);
  const packets = new Counter({ name: 'slackwater_packets', help: 'Packets taken from sensors', registers });
  const raised = new Counter({
    name: 'slackwater_alarms_raised',
    help: 'Alarms of athletes raised since the hub started',
    labelNames: ['kind', 'priority'],
    registers,
  });
  const known = new Set<string>();
  return hub.subscribe((event) => {
    if (event.type === 'packet') packets.inc();
    if (event.type === 'sessionStarted') known.clear();
    if (event.type !== 'alarms') return;
    for (const { alarmId, kind, priority } of event.alarms) {
      if (known.has(alarmId)) continue;
      known.add(alarmId);
      raised.inc({ kind, priority });
    }
  });
}
