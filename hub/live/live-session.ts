// The session being recorded: stores each packet, then pushes it through its athlete's pipeline, and keeps what
// pages need. Decides nothing about holds or alarms; those are the pipeline's.

import type { ErrorCode } from '../../shared/error-codes.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import { type MonotonicMs, monotonicMs, type ProcessMs, wallMs } from '../../shared/units.ts';
import type {
  AlarmView,
  Athlete,
  AthleteState,
  HoldFeeling,
  HoldView,
  MarkView,
  SessionView,
} from '../../shared/views.ts';
import type { AthletePrior } from '../../src/oxygen/athlete-prior.ts';
import type { Pipeline, PipelineEvent, PipelineFactory, PipelineOutput } from '../../src/pipeline.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import type { SensorPacket, SensorStatus, SessionStart, Store } from '../base/ports.ts';
import { storedPriorOf } from '../recorder/stored-prior.ts';
import type { SensorRegistry } from './sensor-registry.ts';
import { toAlarmView, toForecastView, toLiveHoldView, toReadout } from './to-view.ts';
import { createTraceMemory, type TraceMemory } from './trace-memory.ts';

export interface Refusal {
  readonly code: ErrorCode;
  readonly message: string;
}

interface Lane {
  athlete: Athlete;
  readonly pipeline: Pipeline;
  readonly memory: TraceMemory;
  readonly marks: MarkView[];
  /** Alarms as last sent and stored, by id. */
  alarms: Map<string, AlarmView>;
  readonly savedHolds: Map<string, HoldView>;
  /** Holds the stored prior has learnt from. */
  savedPriorHoldCount: number;
  readonly feelings: Map<string, HoldFeeling>;
  tracedToMs: MonotonicMs;
  latestChanged: boolean;
}

export interface LiveSessionPorts {
  readonly store: Store;
  readonly registry: SensorRegistry;
  readonly createPipeline: PipelineFactory;
  /** Alarms, holds and marks: sent at once. Traces and newest values are asked for with `takeUpdates`. */
  readonly send: (message: DownMessage) => void;
  /** A write failed: the session goes on, and every page is told. */
  readonly storeFailed: (error: unknown) => void;
  readonly makeId: () => string;
}

export interface LiveSession {
  readonly view: SessionView;
  readonly athletes: readonly Athlete[];
  toSessionMs(processTime: ProcessMs): MonotonicMs;
  packet(packet: SensorPacket): void;
  link(status: SensorStatus, atMs: ProcessMs): void;
  advance(atMs: ProcessMs): void;
  outputs(athleteId: string, livingPageCount: number, soundReadyCount: number, atMs: ProcessMs): void;
  addMark(
    request: { athleteId: string; kind: MarkView['kind']; atMs: MonotonicMs | null; text: string | null },
    now: ProcessMs,
  ): Result<MarkView, Refusal>;
  removeMark(
    markId: string,
    now: ProcessMs,
    mayChange?: (athleteId: string) => boolean,
  ): Result<MarkView, Refusal>;
  /** A plan says when a hold is to begin: a prior for the detector. Unknown athletes are passed over. */
  expectHold(athleteId: string, startAtMs: ProcessMs, toleranceMs: number, now: ProcessMs): void;
  rateHold(athleteId: string, holdId: string, feeling: HoldFeeling): Result<true, Refusal>;
  /** `by` as in the pipeline's event. */
  acknowledge(
    athleteId: string,
    now: ProcessMs,
    alarmIds?: readonly string[],
    by?: string,
  ): Result<true, Refusal>;
  pauseAudio(athleteId: string, paused: boolean, now: ProcessMs): Result<true, Refusal>;
  changeSettings(athlete: Athlete, now: ProcessMs): Result<true, Refusal>;
  stateOf(
    athleteId: string,
    tracesSinceMs: MonotonicMs,
  ): { state: AthleteState; fill: ReturnType<TraceMemory['since']> } | undefined;
  isFloorLocked(athleteId: string): boolean;
  /** `latest` and `trace` messages for everything that is new since the last call. */
  takeUpdates(): DownMessage[];
  end(now: ProcessMs): SessionView;
}

const unknownAthlete: Refusal = { code: 'unknownAthlete', message: 'This athlete is not in the session.' };

/** Begins recording: writes the session to the store before anything else. Throws what the store throws. */
export function beginLiveSession(
  start: SessionStart,
  zeroMs: ProcessMs,
  ports: LiveSessionPorts,
): LiveSession {
  const { store, registry, send } = ports;
  store.startSession(start);
  const lanes = new Map<string, Lane>();
  const recordedSensorIds = new Set(
    start.athletes.flatMap(({ sensors }) => sensors.map((sensor) => sensor.sensorId)),
  );
  for (const { athlete } of start.athletes) {
    lanes.set(athlete.athleteId, {
      athlete,
      pipeline: ports.createPipeline(athlete.settings, priorOf(athlete.athleteId)),
      memory: createTraceMemory(),
      marks: [],
      alarms: new Map(),
      savedHolds: new Map(),
      savedPriorHoldCount: priorOf(athlete.athleteId).prior?.holdCount ?? 0,
      feelings: new Map(),
      tracedToMs: monotonicMs(0),
      latestChanged: true,
    });
  }
  let view: SessionView = {
    sessionId: start.sessionId,
    startedWallAtMs: start.startedWallAtMs,
    endedAtMs: null,
    status: 'recording',
    simulated: start.simulated,
    source: start.source,
    title: start.title,
    athleteIds: [...lanes.keys()],
  };

  /** What earlier sessions taught; a stored prior that cannot be read is as none. */
  function priorOf(athleteId: string): { prior?: AthletePrior } {
    const prior = storedPriorOf(store, athleteId);
    return prior === undefined ? {} : { prior };
  }

  function savePrior(lane: Lane): void {
    const { athleteId } = lane.athlete;
    const { prior } = lane.pipeline;
    if (prior.holdCount === lane.savedPriorHoldCount) return;
    lane.savedPriorHoldCount = prior.holdCount;
    write(() =>
      store.saveDocument({
        kind: 'oxygenPrior',
        documentId: athleteId,
        groupId: null,
        athleteId,
        body: prior,
      }),
    );
  }

  const toSessionMs = (processTime: ProcessMs) => monotonicMs(Math.max(0, processTime - zeroMs));

  function write(action: () => void): void {
    try {
      action();
    } catch (error) {
      ports.storeFailed(error);
    }
  }

  function push(lane: Lane, event: PipelineEvent): void {
    for (const output of lane.pipeline.push(event)) take(lane, output);
  }

  function take(lane: Lane, output: PipelineOutput): void {
    switch (output.type) {
      case 'sample':
        lane.memory.add(output.sample);
        lane.latestChanged = true;
        return;
      case 'discarded':
        registry.countDiscarded(output.sensorId);
        return;
      case 'battery':
        registry.setBattery(output.sensorId, output.batteryPercent);
        return;
      case 'hold':
        takeHold(lane, output.event.type === 'phaseChanged' ? undefined : output.event);
        lane.latestChanged = true;
        return;
      case 'alarms':
        takeAlarms(lane, output);
        return;
      case 'forecast':
      case 'threshold':
      case 'gap':
        lane.latestChanged = true;
        return;
    }
  }

  function takeHold(
    lane: Lane,
    event: Exclude<Extract<PipelineOutput, { type: 'hold' }>['event'], { type: 'phaseChanged' }> | undefined,
  ): void {
    if (event === undefined) return;
    const { athleteId } = lane.athlete;
    if (event.type === 'holdWithdrawn') {
      const withdrawn = lane.savedHolds.get(event.holdId);
      if (withdrawn)
        write(() => store.saveHold(start.sessionId, { athleteId, hold: withdrawn, withdrawn: true }));
      send({ type: 'hold', athleteId, holdId: event.holdId, hold: null });
      return;
    }
    const live = lane.pipeline.state.holds.find((h) => h.hold.holdId === event.hold.holdId);
    keepHold(lane, toLiveHoldView(live ?? { hold: event.hold }));
  }

  function keepHold(lane: Lane, bare: HoldView): void {
    const { athleteId } = lane.athlete;
    const hold = withFeeling(lane, bare);
    lane.savedHolds.set(hold.holdId, hold);
    write(() => store.saveHold(start.sessionId, { athleteId, hold, withdrawn: false }));
    // A hold teaches once its fall is over, which is known by the next one or the session's end.
    savePrior(lane);
    send({ type: 'hold', athleteId, holdId: hold.holdId, hold });
  }

  function takeAlarms(
    lane: Lane,
    { atMs, ended }: Extract<PipelineOutput, { readonly type: 'alarms' }>,
  ): void {
    const { athleteId } = lane.athlete;
    const alarms = lane.pipeline.state.alarms.map(toAlarmView);
    // Sent before it is written: an alarm is never delayed by a disk, and the bytes it rests on are stored already.
    send({ type: 'alarms', athleteId, atMs, alarms, sound: lane.pipeline.state.sound });
    write(() => {
      for (const alarm of alarms) {
        const before = lane.alarms.get(alarm.alarmId);
        if (before === undefined || isWorthKeeping(before, alarm))
          store.saveAlarm(start.sessionId, { athleteId, alarm, clearedAtMs: null });
      }
      for (const alarm of ended)
        store.saveAlarm(start.sessionId, {
          athleteId,
          alarm: toAlarmView(alarm),
          clearedAtMs: alarm.endedAtMs,
        });
    });
    lane.alarms = new Map(alarms.map((alarm) => [alarm.alarmId, alarm]));
  }

  /** Holds whose lowest reading has fallen since they were last told: finger saturation falls on after the end. */
  function takeLowestChanges(lane: Lane): DownMessage[] {
    const { athleteId } = lane.athlete;
    return lane.pipeline.state.holds.flatMap((live) => {
      const before = lane.savedHolds.get(live.hold.holdId);
      if (before === undefined || before.lowestSpo2?.value === live.lowestSpo2?.value) return [];
      const hold = toLiveHoldView(live);
      lane.savedHolds.set(hold.holdId, hold);
      write(() => store.saveHold(start.sessionId, { athleteId, hold, withdrawn: false }));
      return [{ type: 'hold' as const, athleteId, holdId: hold.holdId, hold }];
    });
  }

  function laneOfSensor(sensorId: string): Lane | undefined {
    const athleteId = registry.athleteOf(sensorId);
    return athleteId === undefined ? undefined : lanes.get(athleteId);
  }

  return {
    get view() {
      return view;
    },
    get athletes() {
      return [...lanes.values()].map((lane) => lane.athlete);
    },
    toSessionMs,
    packet(packet) {
      const lane = laneOfSensor(packet.sensorId);
      if (lane === undefined) return;
      const atMs = toSessionMs(packet.receivedAtMs);
      const { sensorId, characteristic, bytes } = packet;
      write(() =>
        store.appendPacket(start.sessionId, {
          sensorId,
          characteristic,
          bytes,
          atMs,
          wallAtMs: wallMs(start.startedWallAtMs + atMs),
        }),
      );
      push(lane, { type: 'packet', atMs, sensorId, characteristic, bytes });
    },
    link(status, atProcessMs) {
      const lane = laneOfSensor(status.sensorId);
      if (lane === undefined) return;
      const atMs = toSessionMs(atProcessMs);
      if (!recordedSensorIds.has(status.sensorId)) {
        // Without this a sensor first heard after the start would have no wearer in the recording.
        recordedSensorIds.add(status.sensorId);
        write(() =>
          store.saveSessionSensor(start.sessionId, {
            ...status,
            athleteId: lane.athlete.athleteId,
            fromMs: atMs,
          }),
        );
      }
      write(() =>
        store.saveLinkEvent(start.sessionId, {
          sensorId: status.sensorId,
          atMs,
          link: status.link,
          detail: status.detail,
        }),
      );
      push(lane, {
        type: 'link',
        atMs,
        sensorId: status.sensorId,
        measures: status.kinds,
        connected: status.link === 'connected',
      });
    },
    advance(atProcessMs) {
      const atMs = toSessionMs(atProcessMs);
      for (const lane of lanes.values()) push(lane, { type: 'advance', atMs });
    },
    outputs(athleteId, livingPageCount, soundReadyCount, now) {
      const lane = lanes.get(athleteId);
      if (lane) push(lane, { type: 'outputs', atMs: toSessionMs(now), livingPageCount, soundReadyCount });
    },
    addMark(request, now) {
      const lane = lanes.get(request.athleteId);
      if (lane === undefined) return failed(unknownAthlete);
      const nowMs = toSessionMs(now);
      const atMs = request.atMs === null || request.atMs > nowMs ? nowMs : request.atMs;
      const mark: MarkView = {
        markId: ports.makeId(),
        athleteId: request.athleteId,
        kind: request.kind,
        atMs,
        text: request.text,
      };
      lane.marks.push(mark);
      write(() => store.saveMark(start.sessionId, { mark, removed: false }));
      send({ type: 'marked', mark, removed: false });
      push(lane, {
        type: 'mark',
        mark: {
          markId: mark.markId,
          kind: mark.kind,
          atMs,
          ...(mark.text === null ? {} : { text: mark.text }),
        },
      });
      return ok(mark);
    },
    removeMark(markId, now, mayChange = () => true) {
      for (const lane of lanes.values()) {
        const index = lane.marks.findIndex((mark) => mark.markId === markId);
        const mark = lane.marks[index];
        if (mark === undefined) continue;
        if (!mayChange(mark.athleteId))
          return failed<Refusal>({
            code: 'notAllowed',
            message: 'This page may act only for its own athlete.',
          });
        lane.marks.splice(index, 1);
        write(() => store.saveMark(start.sessionId, { mark, removed: true }));
        send({ type: 'marked', mark, removed: true });
        push(lane, { type: 'markRemoved', atMs: toSessionMs(now), markId });
        return ok(mark);
      }
      return failed<Refusal>({ code: 'unknownMark', message: 'There is no such mark to take back.' });
    },
    expectHold(athleteId, startAtMs, toleranceMs, now) {
      const lane = lanes.get(athleteId);
      if (lane === undefined) return;
      const atMs = toSessionMs(now);
      push(lane, { type: 'schedule', atMs, startAtMs: toSessionMs(startAtMs), toleranceMs });
    },
    rateHold(athleteId, holdId, feeling) {
      const lane = lanes.get(athleteId);
      if (lane === undefined) return failed(unknownAthlete);
      const live = lane.pipeline.state.holds.find(({ hold }) => hold.holdId === holdId);
      if (live === undefined)
        return failed<Refusal>({ code: 'unknownHold', message: 'There is no such hold any more.' });
      if (live.hold.end === undefined)
        return failed<Refusal>({ code: 'unknownHold', message: 'This hold is still going on.' });
      lane.feelings.set(holdId, feeling);
      keepHold(lane, toLiveHoldView(live));
      return ok(true);
    },
    acknowledge(athleteId, now, alarmIds, by) {
      const lane = lanes.get(athleteId);
      if (lane === undefined) return failed(unknownAthlete);
      push(lane, {
        type: 'acknowledge',
        atMs: toSessionMs(now),
        ...(alarmIds !== undefined && { alarmIds }),
        ...(by !== undefined && { by }),
      });
      return ok(true);
    },
    pauseAudio(athleteId, paused, now) {
      const lane = lanes.get(athleteId);
      if (lane === undefined) return failed(unknownAthlete);
      push(lane, { type: 'pauseAudio', atMs: toSessionMs(now), paused });
      return ok(true);
    },
    changeSettings(athlete, now) {
      const lane = lanes.get(athlete.athleteId);
      if (lane === undefined) return failed(unknownAthlete);
      const atMs = toSessionMs(now);
      lane.athlete = athlete;
      write(() => store.saveSettingsChange(start.sessionId, athlete.athleteId, atMs, athlete.settings));
      push(lane, { type: 'settings', atMs, settings: athlete.settings });
      return ok(true);
    },
    stateOf(athleteId, tracesSinceMs) {
      const lane = lanes.get(athleteId);
      if (lane === undefined) return undefined;
      const { state } = lane.pipeline;
      return {
        fill: lane.memory.since(tracesSinceMs),
        state: {
          athlete: lane.athlete,
          atMs: state.atMs,
          phase: state.phase,
          spo2: toReadout(state.latestSpo2),
          heartRate: toReadout(state.latestHeartRate),
          holds: state.holds.map((hold) => withFeeling(lane, toLiveHoldView(hold))),
          marks: [...lane.marks],
          alarms: state.alarms.map(toAlarmView),
          sound: state.sound,
          forecast: toForecastView(state.forecast),
        },
      };
    },
    isFloorLocked: (athleteId) => lanes.get(athleteId)?.pipeline.state.floorLocked ?? false,
    takeUpdates() {
      const messages: DownMessage[] = [];
      for (const [athleteId, lane] of lanes) {
        const { state } = lane.pipeline;
        messages.push(...takeLowestChanges(lane));
        const traces = lane.memory.takeNew();
        if (traces.length > 0) {
          messages.push({
            type: 'trace',
            athleteId,
            fromMs: lane.tracedToMs,
            toMs: state.atMs,
            traces,
            thinnedCount: 0,
          });
          lane.tracedToMs = state.atMs;
        }
        if (!lane.latestChanged) continue;
        lane.latestChanged = false;
        messages.push({
          type: 'latest',
          athleteId,
          atMs: state.atMs,
          phase: state.phase,
          spo2: toReadout(state.latestSpo2),
          heartRate: toReadout(state.latestHeartRate),
          forecast: toForecastView(state.forecast),
          passedOverCount: 0,
        });
      }
      return messages;
    },
    end(now) {
      const endedAtMs = toSessionMs(now);
      for (const lane of lanes.values()) {
        push(lane, { type: 'sessionEnded', atMs: endedAtMs });
        savePrior(lane);
      }
      store.endSession(start.sessionId, endedAtMs);
      view = { ...view, status: 'ended', endedAtMs };
      return view;
    },
  };
}

/** A worst value that creeps on is kept by whole units: what it was in the end is kept with the end. */
function isWorthKeeping(before: AlarmView, now: AlarmView): boolean {
  return (
    before.acknowledgedAtMs !== now.acknowledgedAtMs ||
    before.acknowledged !== now.acknowledged ||
    before.conditionPresent !== now.conditionPresent ||
    before.kind !== now.kind ||
    before.priority !== now.priority ||
    Math.floor(before.worstValue ?? 0) !== Math.floor(now.worstValue ?? 0)
  );
}

function withFeeling(lane: Lane, hold: HoldView): HoldView {
  const feeling = lane.feelings.get(hold.holdId);
  return feeling === undefined ? hold : { ...hold, feeling };
}
