// A hub made of the wire contract alone: serves the built page and speaks every message, from a scripted scenario.
// For browser tests of the page; it has no sensors, no pipeline and no recorder.

import { readFileSync } from 'node:fs';
import fastifyStatic from '@fastify/static';
import Fastify, { type FastifyInstance } from 'fastify';
import { type WebSocket, WebSocketServer } from 'ws';
import type {
  AthleteRecording,
  MeasureView,
  RecordingBody,
  SessionsBody,
  TraceBody,
} from '../../shared/http.ts';
import type { LabelledExtract } from '../../shared/labelled-extract.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import { type UpMessage, upMessageSchema } from '../../shared/messages/up.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';
import { said } from '../../shared/said.ts';
import type { Phase, Role } from '../../shared/schema-parts.ts';
import { monotonicMs, percent, wallMs } from '../../shared/units.ts';
import type {
  AlarmView,
  Athlete,
  AthleteState,
  HoldFeeling,
  HoldView,
  MarkView,
  Readout,
  SensorView,
  SessionView,
  SupervisionAlarm,
  Trace,
} from '../../shared/views.ts';
import { populationPrior } from '../../src/oxygen/athlete-prior.ts';
import { foresee, sayForesight } from '../../src/oxygen/foresight.ts';
import { lungsOfMark } from '../../src/samples/mark.ts';

const webRoot = new URL('../../dist/web/', import.meta.url).pathname;

/** The policy the real hub is to serve: nothing inline, nothing from outside. */
const contentSecurityPolicy =
  "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

const inventedNames = [
  'Marit Oduya',
  'Teo Lindqvist',
  'Sana Whitlock',
  'Ilse Barraco',
  'Jonah Pereira-Voss',
  'Kaja Brandt',
  'Rui Amsel',
  'Nerys Okafor',
  'Bram Castellan',
  'Yuki Harrow',
  'Lena Tidemann',
  'Oskar Vale',
  'Pia Renko',
  'Dag Moreau',
  'Hana Sollis',
  'Ezra Quill',
];

/** One athlete's body at a time of the scenario: rest 60 s, hold 150 s, recover 70 s, again and again. */
export function scenarioAt(seconds: number, athleteIndex: number) {
  const cycle = 280;
  const shifted = seconds + athleteIndex * 47;
  const inCycle = shifted % cycle;
  const cycleStart = seconds - inCycle;
  const holding = inCycle >= 60 && inCycle < 210;
  const phase: Phase = holding
    ? 'holding'
    : inCycle >= 210
      ? 'recovering'
      : inCycle > 40
        ? 'readying'
        : 'resting';
  const intoHold = Math.max(0, inCycle - 60);
  // The finger follows some 20 s later.
  const lagged = Math.max(0, Math.min(intoHold, 170) - 45);
  const fall = lagged ** 1.35 * 0.03;
  const recovery = inCycle > 230 ? Math.min(1, (inCycle - 230) / 18) : 0;
  const wobble = Math.sin(seconds * 1.7 + athleteIndex) * 0.5;
  const spo2Percent = Math.min(100, Math.max(60, 98.4 - fall * (1 - recovery) + wobble * 0.4));
  const heartRateBpm = holding
    ? 78 - Math.min(24, intoHold * 0.28) + wobble * 3
    : inCycle >= 210
      ? 54 + Math.min(26, (inCycle - 210) * 1.2) + wobble * 3
      : 74 + Math.sin(seconds / 1.6) * 7;
  return {
    phase,
    spo2Percent,
    heartRateBpm,
    holdStartSeconds: cycleStart + 60,
    holdEndSeconds: cycleStart + 210,
  };
}

export interface FakeHubOptions {
  readonly athleteCount: number;
  readonly simulated?: boolean;
  /** Seconds of session already behind when the page opens. */
  readonly behindSeconds?: number;
  readonly sessionRunning?: boolean;
  readonly recordings?: boolean;
  /** No readings, alarms or traces by themselves: the test says each. */
  readonly still?: boolean;
}

/** An unacknowledged floor alarm without the values. */
const plainAlarm = {
  highestPriority: 'high',
  conditionPresent: true,
  timesPresent: 1,
  passedAtMs: null,
  acknowledged: false,
  acknowledgedAtMs: null,
  acknowledgedBy: null,
  worstAtMs: null,
  limit: 88,
  likely: null,
  subject: null,
  sensorId: null,
  detail: null,
  holdNear: true,
  instruction: 'Breathe now.',
} as const;
const noPlanRun = { run: null, nowMs: 0, timeScale: 1, since: 0, events: [] };

export class FakeHub {
  readonly received: UpMessage[] = [];
  /** Unlike a closed socket: connected, and saying nothing. */
  mute = false;
  url = '';
  simulated: boolean;
  role: Role = 'coach';
  session: SessionView | null = null;
  readonly athletes: Athlete[] = [];
  readonly sensors: SensorView[] = [];
  readonly marks: MarkView[] = [];
  supervision: SupervisionAlarm[] = [];
  readonly alarmsOf = new Map<string, AlarmView[]>();
  readonly pausedUntilMs = new Map<string, number>();
  readonly feelingOf = new Map<string, HoldFeeling>();
  readonly markHoldsOf = new Map<string, HoldView[]>();
  readonly deletedSessions: string[] = [];
  readonly #options: FakeHubOptions;
  #server: FastifyInstance | null = null;
  #sockets = new Set<WebSocket>();
  #startedAtMs = 0;
  #timers: NodeJS.Timeout[] = [];
  #sequence = 0;
  #sentToMs = 0;
  #markNumber = 0;
  #port = 0;

  constructor(options: FakeHubOptions) {
    this.#options = options;
    this.simulated = options.simulated ?? false;
    for (let index = 0; index < options.athleteCount; index += 1) {
      const athleteId = `athlete-${index + 1}`;
      this.athletes.push({
        athleteId,
        name: inventedNames[index % inventedNames.length]!,
        simulated: this.simulated,
        settings: {
          floorSpo2Percent: percent(88),
          thresholdsPercent: [percent(95), percent(92)],
          heartRateLowBpm: 38,
          heartRateHighBpm: null,
          maxHoldDurationMs: null,
          forecastAlarm: 'medium',
        },
      });
      for (const kind of ['oximeter', 'heartRate'] as const) {
        this.sensors.push({
          sensorId: `${kind}-${index + 1}`,
          name: kind === 'oximeter' ? `Finger clip ${index + 1}` : `Chest strap ${index + 1}`,
          kinds: [kind],
          source: this.simulated ? 'simulated' : 'bluetooth',
          athleteId,
          link: 'connected',
          detail: null,
          batteryPercent: percent(kind === 'oximeter' ? 80 : 64),
          rssiDbm: -61,
          lastPacketWallAtMs: wallMs(Date.now()),
          packetCount: 100,
          discardedCount: 0,
        });
      }
    }
    if (options.sessionRunning !== false)
      this.#beginSession(this.athletes.map((athlete) => athlete.athleteId));
  }

  /** Serves on a free port of loopback, or on the one it had before. */
  async start(): Promise<void> {
    const server = Fastify();
    server.addHook('onSend', async (_request, reply) => {
      reply.header('content-security-policy', contentSecurityPolicy);
    });
    await server.register(fastifyStatic, { root: webRoot });
    server.setNotFoundHandler((request, reply) => {
      if (request.url.startsWith('/api/')) {
        return reply.code(404).send({
          code: 'notFound',
          message: 'There is nothing at this address.',
          said: said('refusal.nothingHere'),
        });
      }
      return reply.type('text/html').send(readFileSync(`${webRoot}index.html`));
    });
    this.#routes(server);
    await server.listen({ host: '127.0.0.1', port: this.#port });
    const address = server.server.address();
    if (address === null || typeof address === 'string') throw new Error('no port');
    this.#port = address.port;
    this.url = `http://127.0.0.1:${this.#port}`;
    this.#server = server;
    const sockets = new WebSocketServer({ server: server.server, path: '/ws' });
    sockets.on('connection', (socket) => {
      this.#sockets.add(socket);
      socket.on('close', () => this.#sockets.delete(socket));
      socket.on('message', (data) => this.#receive(socket, String(data)));
    });
    this.#timers = [
      setInterval(() => this.#heartbeat(), 500),
      setInterval(() => {
        if (!this.#options.still) this.step();
      }, 1000),
    ];
  }

  async stop(): Promise<void> {
    for (const timer of this.#timers) clearInterval(timer);
    for (const socket of this.#sockets) socket.terminate();
    await this.#server?.close();
    this.#server = null;
  }

  nowMs(): number {
    return Math.max(0, Date.now() - this.#startedAtMs);
  }

  /** Sends to every page, whatever the contract says of it. */
  broadcast(message: DownMessage | Record<string, unknown>): void {
    if (this.mute) return;
    for (const socket of this.#sockets) socket.send(JSON.stringify(message));
  }

  /** Sends what happened since the last step: newest values, traces, holds. */
  step(): void {
    if (this.session?.status !== 'recording') return;
    const toMs = this.nowMs();
    const fromMs = this.#sentToMs;
    this.#sentToMs = toMs;
    if (this.mute) return;
    this.athletes.forEach((athlete, index) => {
      if (!this.session?.athleteIds.includes(athlete.athleteId)) return;
      const state = this.stateOf(athlete, index);
      const { athleteId } = athlete;
      this.broadcast({
        type: 'latest',
        athleteId,
        atMs: state.atMs,
        phase: state.phase,
        spo2: state.spo2,
        heartRate: state.heartRate,
        forecast: state.forecast,
        droppedCount: 0,
      });
      this.broadcast({
        type: 'trace',
        athleteId,
        fromMs,
        toMs,
        traces: this.traces(index, fromMs, toMs),
        decimatedCount: 0,
      });
      const hold = state.holds.at(-1);
      if (hold !== undefined) this.broadcast({ type: 'hold', athleteId, holdId: hold.holdId, hold });
    });
  }

  /** Replaces one athlete's newest saturation reading on the pages. */
  sendReading(athleteIndex: number, spo2: Readout, heartRate: Readout, phase: Phase = 'holding'): void {
    this.broadcast({
      type: 'latest',
      athleteId: this.athletes[athleteIndex]!.athleteId,
      atMs: this.nowMs(),
      phase,
      spo2,
      heartRate,
      forecast: { known: false, lowestIfStoppedNow: null, secondsToStop: null },
      droppedCount: 0,
    });
  }

  readout(
    value: number,
    ageMs = 0,
    quality: 'good' | 'suspect' | 'bad' = 'good',
    reasons: string[] = [],
  ): Readout {
    return {
      value,
      atMs: monotonicMs(Math.max(0, this.nowMs() - ageMs)),
      quality,
      reasons,
      sensorId: 'oximeter-1',
    };
  }

  raiseAlarm(athleteIndex: number, alarm: Partial<AlarmView> = {}): void {
    const { athleteId } = this.athletes[athleteIndex]!;
    const alarms = this.alarmsOf.get(athleteId) ?? [];
    this.alarmsOf.set(athleteId, [
      ...alarms,
      {
        alarmId: `alarm-${athleteId}-${alarms.length + 1}`,
        kind: 'floorBreached',
        priority: 'high',
        raisedAtMs: monotonicMs(this.nowMs()),
        ...plainAlarm,
        value: 86,
        worstValue: 86,
        message: 'Saturation reads 86 %, below the floor of 88 %.',
        ...alarm,
      },
    ]);
    this.sendAlarms(athleteId);
  }

  sendAlarms(athleteId: string): void {
    const state = this.stateOf(
      this.athletes.find((athlete) => athlete.athleteId === athleteId)!,
      this.athletes.findIndex((athlete) => athlete.athleteId === athleteId),
    );
    this.broadcast({ type: 'alarms', athleteId, atMs: state.atMs, alarms: state.alarms, sound: state.sound });
  }

  #lungsOf(athleteId: string): AthleteState['forecast']['lungs'] {
    const kind = this.marks.findLast(
      (mark) => mark.athleteId === athleteId && lungsOfMark[mark.kind] !== undefined,
    )?.kind;
    const said = kind === undefined ? undefined : lungsOfMark[kind];
    if (said === undefined) return null;
    return { said, warning: sayForesight(foresee(populationPrior, said, 88)) ?? null };
  }

  stateOf(athlete: Athlete, index: number): AthleteState {
    const nowMs = this.nowMs();
    const seconds = nowMs / 1000;
    const body = scenarioAt(seconds, index);
    const measuredAtMs = monotonicMs(Math.floor(nowMs / 1000) * 1000);
    const alarms = this.alarmsOf.get(athlete.athleteId) ?? [];
    const pausedUntilMs = this.pausedUntilMs.get(athlete.athleteId) ?? 0;
    const sounding = alarms.filter((alarm) => !alarm.acknowledged);
    const holding = body.phase === 'holding';
    const lowest = Math.max(60, body.spo2Percent - 3);
    return {
      athlete,
      atMs: monotonicMs(nowMs),
      phase: body.phase,
      spo2: {
        value: Math.round(body.spo2Percent),
        atMs: measuredAtMs,
        quality: 'good',
        reasons: [],
        sensorId: `oximeter-${index + 1}`,
      },
      heartRate: {
        value: Math.round(body.heartRateBpm),
        atMs: measuredAtMs,
        quality: 'good',
        reasons: [],
        sensorId: `heartRate-${index + 1}`,
      },
      holds: (this.markHoldsOf.get(athlete.athleteId) ?? this.#holdsUpTo(seconds, index)).map((hold) =>
        this.#withFeeling(hold),
      ),
      marks: this.marks.filter((mark) => mark.athleteId === athlete.athleteId),
      alarms,
      sound: {
        priority: sounding[0]?.priority ?? null,
        audioPausedUntilMs: pausedUntilMs > nowMs ? monotonicMs(pausedUntilMs) : null,
      },
      forecast:
        holding && body.spo2Percent < 96
          ? {
              known: true,
              lowestIfStoppedNow: {
                percent: percent(lowest),
                lowPercent: percent(lowest - 2),
                highPercent: percent(lowest + 1.4),
              },
              secondsToStop: { seconds: 34, lowSeconds: 21, highSeconds: 52 },
              lungs: this.#lungsOf(athlete.athleteId),
            }
          : {
              known: false,
              lowestIfStoppedNow: null,
              secondsToStop: null,
              lungs: this.#lungsOf(athlete.athleteId),
            },
    };
  }

  traces(index: number, fromMs: number, toMs: number, stepMs = 1000): Trace[] {
    const atMs: number[] = [];
    for (let at = Math.floor(fromMs / stepMs + 1) * stepMs; at <= toMs; at += stepMs) atMs.push(at);
    const bodies = atMs.map((at) => scenarioAt(at / 1000, index));
    // Half a minute after the start the clip slips for a while: doubtful, bad, then nothing.
    const letter = (at: number) =>
      at > 100_000 && at < 108_000 ? 's' : at >= 108_000 && at < 111_000 ? 'b' : 'g';
    const silent = (at: number) => at >= 111_000 && at < 121_000;
    const kept = atMs.filter((at) => !silent(at));
    return [
      {
        channel: 'spo2Percent',
        atMs: kept,
        value: kept.map((at) => Math.round(scenarioAt(at / 1000, index).spo2Percent)),
        quality: kept.map(letter).join(''),
      },
      {
        channel: 'heartRateBpm',
        atMs,
        value: bodies.map((body) => Math.round(body.heartRateBpm)),
        quality: 'g'.repeat(atMs.length),
      },
    ];
  }

  #holdsUpTo(seconds: number, index: number): HoldView[] {
    const holds: HoldView[] = [];
    for (let cycle = -1; cycle <= seconds / 280 + 1; cycle += 1) {
      const start = cycle * 280 - index * 47 + 60;
      if (start < 0 || start > seconds) continue;
      const end = start + 150;
      holds.push(
        fakeHold(`hold-${index + 1}-${cycle + 2}`, start * 1000, end <= seconds ? end * 1000 : null, index),
      );
    }
    return holds;
  }

  #beginSession(athleteIds: string[]): void {
    this.#startedAtMs = Date.now() - (this.#options.behindSeconds ?? 0) * 1000;
    this.#sentToMs = this.nowMs();
    this.session = {
      sessionId: `session-${this.#startedAtMs}`,
      startedWallAtMs: wallMs(this.#startedAtMs),
      endedAtMs: null,
      status: 'recording',
      simulated: this.simulated,
      source: this.simulated ? 'simulated' : 'live',
      title: 'Dry session',
      athleteIds,
    };
  }

  #heartbeat(): void {
    this.#sequence += 1;
    this.broadcast({
      type: 'heartbeat',
      sequence: this.#sequence,
      wallNowMs: Date.now(),
      atMs: this.session?.status === 'recording' ? this.nowMs() : null,
    });
  }

  #receive(socket: WebSocket, text: string): void {
    const parsed = upMessageSchema.safeParse(JSON.parse(text));
    if (!parsed.success) throw new Error(`the page sent what the contract does not know: ${text}`);
    const message = parsed.data;
    this.received.push(message);
    if (this.mute) return;
    const send = (down: DownMessage | Record<string, unknown>) => socket.send(JSON.stringify(down));
    const isRefused = message.type === 'startSession' && this.session?.status === 'recording';
    if ('requestId' in message && !isRefused) send({ type: 'done', requestId: message.requestId });
    switch (message.type) {
      case 'hello': {
        const present = this.athletes.filter((athlete) =>
          this.session?.athleteIds.includes(athlete.athleteId),
        );
        send({
          type: 'welcome',
          protocolVersion,
          hubVersion: '0.1.0',
          wallNowMs: Date.now(),
          timeScale: 1,
          simulated: this.simulated,
          role: this.role,
          athleteIds: 'all',
          deviceId: null,
          session: this.session,
          endedSessionId: null,
          athletes: present.map((athlete) => this.stateOf(athlete, this.athletes.indexOf(athlete))),
          sensors: this.sensors,
        });
        send({ type: 'planRun', current: noPlanRun });
        if (this.session === null) return;
        const fromMs = message.resume?.sessionId === this.session.sessionId ? message.resume.haveToMs : 0;
        for (const athlete of present) {
          send({
            type: 'trace',
            athleteId: athlete.athleteId,
            fromMs,
            toMs: this.#sentToMs,
            traces: this.traces(this.athletes.indexOf(athlete), fromMs, this.#sentToMs),
            decimatedCount: 0,
          });
        }
        return;
      }
      case 'startSession':
        if (this.session?.status === 'recording') {
          send({
            type: 'refused',
            requestId: message.requestId,
            code: 'sessionRunning',
            said: said('refusal.sessionRunning'),
          });
          return;
        }
        this.#beginSession(message.athleteIds);
        this.broadcast({
          type: 'session',
          session: this.session,
          athletes: this.athletes.filter((athlete) => message.athleteIds.includes(athlete.athleteId)),
        });
        return;
      case 'endSession':
        if (this.session === null) return;
        this.session = { ...this.session, status: 'ended', endedAtMs: monotonicMs(this.nowMs()) };
        this.broadcast({ type: 'session', session: this.session, athletes: this.athletes });
        return;
      case 'addMark': {
        this.#markNumber += 1;
        const mark: MarkView = {
          markId: `mark-${this.#markNumber}`,
          athleteId: message.athleteId,
          kind: message.kind,
          atMs: message.atMs ?? monotonicMs(this.nowMs()),
          text: message.text,
        };
        this.marks.push(mark);
        this.broadcast({ type: 'marked', mark, removed: false, requestId: message.requestId });
        if (message.kind === 'holdStart' || message.kind === 'holdEnd') this.#holdByMark(mark);
        return;
      }
      case 'removeMark': {
        const index = this.marks.findIndex((mark) => mark.markId === message.markId);
        if (index < 0) return;
        const [mark] = this.marks.splice(index, 1);
        this.broadcast({ type: 'marked', mark, removed: true, requestId: null });
        return;
      }
      case 'rateHold': {
        this.feelingOf.set(message.holdId, message.feeling);
        const index = this.athletes.findIndex((athlete) => athlete.athleteId === message.athleteId);
        const { holds } = this.stateOf(this.athletes[index]!, index);
        const hold = holds.find(({ holdId }) => holdId === message.holdId);
        if (hold !== undefined)
          this.broadcast({ type: 'hold', athleteId: message.athleteId, holdId: hold.holdId, hold });
        return;
      }
      case 'acknowledgeAlarms':
        this.alarmsOf.set(
          message.athleteId,
          (this.alarmsOf.get(message.athleteId) ?? []).map((alarm) => ({
            ...alarm,
            acknowledged: alarm.acknowledged || message.alarmIds.includes(alarm.alarmId),
          })),
        );
        this.sendAlarms(message.athleteId);
        return;
      case 'pauseAudio':
        this.pausedUntilMs.set(message.athleteId, message.paused ? this.nowMs() + 120_000 : 0);
        this.sendAlarms(message.athleteId);
        return;
      case 'changeSettings': {
        const index = this.athletes.findIndex((athlete) => athlete.athleteId === message.athleteId);
        this.athletes[index] = { ...this.athletes[index]!, settings: message.settings };
        this.broadcast({ type: 'session', session: this.session, athletes: this.athletes });
        return;
      }
      case 'acknowledgeSupervision':
        this.supervision = this.supervision.filter(({ alarmId }) => !message.alarmIds.includes(alarmId));
        this.broadcast({ type: 'supervision', alarms: this.supervision });
        return;
      case 'pageState':
        return;
    }
  }

  #withFeeling(hold: HoldView): HoldView {
    const feeling = this.feelingOf.get(hold.holdId);
    return feeling === undefined ? hold : { ...hold, feeling };
  }

  #holdByMark(mark: MarkView): void {
    const holds = [...(this.markHoldsOf.get(mark.athleteId) ?? [])];
    if (mark.kind === 'holdStart') holds.push(fakeHold(`hold-of-${mark.markId}`, mark.atMs, null, 0));
    else {
      const last = holds.at(-1);
      if (last === undefined) return;
      holds[holds.length - 1] = fakeHold(last.holdId, last.start.atMs, mark.atMs, 0);
    }
    this.markHoldsOf.set(mark.athleteId, holds);
    const hold = holds.at(-1)!;
    this.broadcast({ type: 'hold', athleteId: mark.athleteId, holdId: hold.holdId, hold });
  }

  #routes(server: FastifyInstance): void {
    server.get('/api/athletes', async () => ({ athletes: this.athletes }));
    server.post('/api/athletes', async (request) => {
      const { name } = request.body as { name: string };
      const athlete: Athlete = {
        athleteId: `athlete-${this.athletes.length + 1}`,
        name,
        simulated: false,
        settings: {
          floorSpo2Percent: percent(88),
          thresholdsPercent: [],
          heartRateLowBpm: null,
          heartRateHighBpm: null,
          maxHoldDurationMs: null,
          forecastAlarm: 'medium',
        },
      };
      this.athletes.push(athlete);
      return athlete;
    });
    server.put('/api/sensors/:sensorId/athlete', async (request) => {
      const { sensorId } = request.params as { sensorId: string };
      const index = this.sensors.findIndex((sensor) => sensor.sensorId === sensorId);
      const { athleteId } = request.body as { athleteId: string | null };
      this.sensors[index] = { ...this.sensors[index]!, athleteId };
      this.broadcast({ type: 'sensors', sensors: this.sensors, notices: [] });
      return {};
    });
    server.get('/api/plans', async () => ({ plans: [] }));
    server.get('/api/plan-runs', async () => ({ runs: [] }));
    server.get('/api/athletes/:athleteId/oxygen', async () => ({ prior: null }));
    server.get('/api/athletes/:athleteId/training', async () => ({ entries: [] }));
    server.get('/api/athletes/:athleteId/advice', async () => ({ advice: [] }));
    server.get('/api/sensors', async () => ({ sensors: this.sensors, notices: [] }));
    server.get('/api/sessions', async (): Promise<SessionsBody> => ({ sessions: this.#recordings() }));
    server.get('/api/sessions/:sessionId', async (request, reply) => {
      const { sessionId } = request.params as { sessionId: string };
      const found = this.#recordings().find((entry) => entry.session.sessionId === sessionId);
      if (found === undefined) {
        return reply.code(404).send({
          code: 'unknownSession',
          message: 'There is no such recording.',
          said: said('refusal.unknownRecording'),
        });
      }
      return this.recordingBody(found.session, found.durationMs);
    });
    server.get('/api/sessions/:sessionId/athletes/:athleteId', async (request, reply) => {
      const { sessionId, athleteId } = request.params as { sessionId: string; athleteId: string };
      const found = this.#recordings().find((entry) => entry.session.sessionId === sessionId);
      const athlete =
        found === undefined
          ? undefined
          : this.recordingBody(found.session, found.durationMs).athletes.find(
              (entry) => entry.athlete.athleteId === athleteId,
            );
      return (
        athlete ??
        reply.code(404).send({
          code: 'unknownSession',
          message: 'There is no such recording.',
          said: said('refusal.unknownRecording'),
        })
      );
    });
    server.delete('/api/sessions/:sessionId', async (request) => {
      this.deletedSessions.push((request.params as { sessionId: string }).sessionId);
      return {};
    });
    server.get(
      '/api/sessions/:sessionId/extract',
      async (): Promise<LabelledExtract> => ({
        format: 'slackwater labelled extract',
        version: 1,
        simulated: false,
        durationMs: 600_000,
        everyHoldIsMarked: false,
        oximeter: null,
        series: [
          { channel: 'spo2Percent', sensor: 1, timesMs: [0, 1_000], values: [98, 97] },
          { channel: 'pleth', sensor: 1, timesMs: [0, 20, 40], values: [1, 2, 1] },
        ],
        holds: [{ startMs: 60_000, endMs: 150_000, lungs: null }],
        contractionsMs: [],
      }),
    );
    server.get('/api/sessions/:sessionId/csv', async (_request, reply) =>
      reply
        .type('text/csv')
        .header('content-disposition', 'attachment; filename="recording.csv"')
        .send('atMs,channel,value\n'),
    );
    server.get('/api/sessions/:sessionId/athletes/:athleteId/trace', async (request): Promise<TraceBody> => {
      const { athleteId } = request.params as { athleteId: string };
      const query = request.query as { fromMs: string; toMs: string; points: string };
      const index = this.athletes.findIndex((athlete) => athlete.athleteId === athleteId);
      const fromMs = Number(query.fromMs);
      const toMs = Number(query.toMs);
      const stepMs = Math.max(1000, Math.ceil((toMs - fromMs) / Number(query.points) / 1000) * 1000);
      return {
        fromMs,
        toMs,
        traces: this.traces(index, fromMs - 1, toMs, stepMs),
        decimated: stepMs > 1000,
        cleaned: true,
      };
    });
  }

  #recordings(): SessionsBody['sessions'] {
    if (!this.#options.recordings) return [];
    const base = { source: 'simulated', simulated: true, athleteIds: ['athlete-1'] } as const;
    return [
      {
        session: {
          ...base,
          athleteIds: ['athlete-1', 'athlete-2'],
          sessionId: 'rec-3',
          startedWallAtMs: wallMs(Date.UTC(2026, 4, 12, 18, 30)),
          endedAtMs: monotonicMs(1_720_000),
          status: 'ended',
          title: 'Evening statics',
        },
        athleteNames: [inventedNames[0]!, inventedNames[1]!],
        holdCount: 11,
        durationMs: 1_720_000,
      },
      {
        session: {
          ...base,
          sessionId: 'rec-2',
          startedWallAtMs: wallMs(Date.UTC(2026, 4, 10, 7, 5)),
          endedAtMs: null,
          status: 'interrupted',
          title: '',
        },
        athleteNames: [inventedNames[0]!],
        holdCount: 3,
        durationMs: 812_000,
      },
      {
        session: {
          ...base,
          simulated: false,
          source: 'live',
          sessionId: 'rec-1',
          startedWallAtMs: wallMs(Date.UTC(2026, 4, 3, 19, 12)),
          endedAtMs: monotonicMs(1_260_000),
          status: 'ended',
          title: 'Dry session',
        },
        athleteNames: [inventedNames[0]!],
        holdCount: 4,
        durationMs: 1_260_000,
      },
    ].filter((entry) => !this.deletedSessions.includes(entry.session.sessionId)) as SessionsBody['sessions'];
  }

  recordingBody(session: SessionView, durationMs: number): RecordingBody {
    return {
      session,
      damage: [],
      durationMs,
      sensors: this.sensors.slice(0, 2),
      athletes: session.athleteIds.map((athleteId): AthleteRecording => {
        const index = this.athletes.findIndex((athlete) => athlete.athleteId === athleteId);
        const holds = this.#holdsUpTo(durationMs / 1000, index);
        return {
          athlete: this.athletes[index]!,
          workedOut: true,
          holds: holds.map((hold, number) => ({
            hold: number === 0 ? { ...hold, feeling: { comfort: 4, note: 'Warm hands, calm' } } : hold,
            measures: fakeMeasures(hold),
          })),
          liveHolds: holds,
          estimatedHolds: holds,
          corrections: [],
          marks: holds
            .flatMap((hold, number) => [
              fakeMark(athleteId, `c1-${number}`, 'contraction', hold.start.atMs + 96_000, null),
              fakeMark(athleteId, `c2-${number}`, 'contraction', hold.start.atMs + 117_000, null),
              ...(number === 0
                ? [fakeMark(athleteId, 'note', 'note', hold.start.atMs + 160_000, 'Felt easy, warm hands')]
                : []),
            ])
            .map((mark) => ({ ...mark, how: 'asMarked' as const, originallyAtMs: null })),
          canRedo: false,
          removedMarks: [fakeMark(athleteId, 'gone', 'contraction', 90_000, null)],
          alarms: [
            {
              alarm: {
                alarmId: 'a1',
                kind: 'floorBreached',
                priority: 'high',
                raisedAtMs: monotonicMs(205_000),
                ...plainAlarm,
                conditionPresent: false,
                passedAtMs: monotonicMs(231_000),
                acknowledged: true,
                acknowledgedAtMs: monotonicMs(236_000),
                acknowledgedBy: '',
                value: 87,
                worstValue: 84,
                message: 'Saturation read 87 %, below the floor of 88 %.',
              },
              clearedAtMs: monotonicMs(236_000),
            },
          ],
          gaps: [
            {
              sensorId: 'oximeter-1',
              fromMs: monotonicMs(110_000),
              toMs: monotonicMs(121_000),
              reason: said('gap.spo2Percent'),
            },
          ],
          discardedCount: 2,
        };
      }),
    };
  }
}

function fakeMark(
  athleteId: string,
  markId: string,
  kind: MarkView['kind'],
  atMs: number,
  text: string | null,
): MarkView {
  return { markId, athleteId, kind, atMs: monotonicMs(atMs), text };
}

function fakeHold(holdId: string, startMs: number, endMs: number | null, index: number): HoldView {
  const boundary = (atMs: number) => ({
    atMs: monotonicMs(atMs),
    uncertaintyMs: 2400,
    declaredAtMs: monotonicMs(atMs + 6000),
    source: 'detected' as const,
    evidence: ['breathing stopped in the heart rate'],
  });
  return {
    holdId,
    start: boundary(startMs),
    end: endMs === null ? null : boundary(endMs),
    contractionCount: index % 3,
    firstContractionAtMs: null,
    lowestSpo2: {
      value: 91,
      atMs: monotonicMs(startMs + 30_000),
      quality: 'good',
      reasons: [],
      sensorId: 'oximeter-1',
    },
  };
}

function fakeMeasures(hold: HoldView): MeasureView[] {
  const durationS = hold.end === null ? null : (hold.end.atMs - hold.start.atMs) / 1_000;
  const source = said('source.citation', { citation: 'the invented hub of this test' });
  const known = (key: string, unit: string, value: number): MeasureView => ({
    key,
    unit,
    value,
    whyNot: null,
    source,
  });
  return [
    {
      key: 'durationS',
      unit: 's',
      value: durationS,
      whyNot: durationS === null ? said('measure.noEnd') : null,
      source,
    },
    known('spo2AtStartPercent', '%', 98),
    known('spo2LowestPercent', '%', 86),
    known('spo2LowestAfterEndS', 's', 22.5),
    known('heartRateLowestBpm', '/min', 54),
    known('timeBelow90S', 's', 21),
    { key: 'rmssdRestMs', unit: 'ms', value: null, whyNot: said('measure.notTold'), source },
  ];
}
