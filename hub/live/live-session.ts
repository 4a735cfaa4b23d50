// The session being recorded: whose sensor is whose, session time, and which athlete an event is for. Each packet is
// published, and so recorded, before it goes through its athlete's pipeline.

import type { MarkKind } from '../../shared/schema-parts.ts';
import { type MonotonicMs, monotonicMs, type ProcessMs, wallMs } from '../../shared/units.ts';
import type { Athlete, HoldFeeling } from '../../shared/views.ts';
import type { PipelineEvent } from '../../src/pipeline.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import type { SensorPacket, SensorStatus } from '../base/ports/sensor-source.ts';
import type { Refusal } from '../base/refusal.ts';
import type { LiveListener, Session, SessionMark } from './live-event.ts';
import type { AthleteSnapshot, MonitoredAthlete } from './monitored-athlete.ts';
import { refusals } from './refusals.ts';
import type { SensorRegistry } from './sensor-registry.ts';

export interface MarkRequest {
  readonly athleteId: string;
  readonly kind: MarkKind;
  /** The session time meant; null, or a time to come, means now. */
  readonly atMs: MonotonicMs | null;
  readonly text: string | null;
  readonly requestId?: string;
}

export interface LiveSessionParts {
  readonly session: Session;
  readonly athletes: readonly MonitoredAthlete[];
  readonly registry: SensorRegistry;
  readonly publish: LiveListener;
  readonly makeId: () => string;
}

export class LiveSession {
  readonly #parts: LiveSessionParts;
  readonly #athletes: ReadonlyMap<string, MonitoredAthlete>;

  constructor(parts: LiveSessionParts) {
    this.#parts = parts;
    this.#athletes = new Map(parts.athletes.map((one) => [one.athlete.athleteId, one]));
  }

  get session(): Session {
    return this.#parts.session;
  }

  toSessionMs(processTime: ProcessMs): MonotonicMs {
    return monotonicMs(Math.max(0, processTime - this.session.zeroMs));
  }

  snapshotOf(athleteId: string): AthleteSnapshot | undefined {
    return this.#athletes.get(athleteId)?.snapshot;
  }

  isFloorLocked(athleteId: string): boolean {
    return this.#athletes.get(athleteId)?.floorLocked ?? false;
  }

  packet(packet: SensorPacket): void {
    const one = this.#wearerOf(packet.sensorId);
    if (one === undefined) return;
    const atMs = this.toSessionMs(packet.receivedAtMs);
    const { sensorId, characteristic, bytes } = packet;
    const wallAtMs = wallMs(this.session.startedWallAtMs + atMs);
    const { athleteId } = one.athlete;
    this.#parts.publish({
      type: 'packet',
      athleteId,
      packet: { sensorId, characteristic, bytes, atMs, wallAtMs },
    });
    one.push({ type: 'packet', atMs, sensorId, characteristic, bytes });
  }

  link(sensor: SensorStatus, atProcessMs: ProcessMs): void {
    const one = this.#wearerOf(sensor.sensorId);
    if (one === undefined) return;
    const atMs = this.toSessionMs(atProcessMs);
    this.#parts.publish({ type: 'link', athleteId: one.athlete.athleteId, atMs, sensor });
    const { sensorId, kinds: measures } = sensor;
    one.push({
      type: 'link',
      atMs,
      sensorId,
      measures,
      connected: sensor.link === 'connected',
      isNew: sensor.link === 'connecting',
    });
  }

  advance(atProcessMs: ProcessMs): void {
    const atMs = this.toSessionMs(atProcessMs);
    for (const one of this.#athletes.values()) one.push({ type: 'advance', atMs });
  }

  /** An event for one athlete; answers whether they are in the session. */
  push(athleteId: string, event: PipelineEvent): Result<true, Refusal> {
    const one = this.#athletes.get(athleteId);
    if (one === undefined) return failed<Refusal>(refusals.notInSession);
    one.push(event);
    return ok(true);
  }

  addMark(request: MarkRequest, now: ProcessMs): Result<SessionMark, Refusal> {
    const one = this.#athletes.get(request.athleteId);
    if (one === undefined) return failed<Refusal>(refusals.notInSession);
    const nowMs = this.toSessionMs(now);
    const mark: SessionMark = {
      markId: this.#parts.makeId(),
      athleteId: request.athleteId,
      kind: request.kind,
      atMs: request.atMs === null || request.atMs > nowMs ? nowMs : request.atMs,
      text: request.text ?? undefined,
    };
    one.addMark(mark, request.requestId);
    return ok(mark);
  }

  removeMark(
    markId: string,
    now: ProcessMs,
    mayChange: (athleteId: string) => boolean,
  ): Result<SessionMark, Refusal> {
    for (const one of this.#athletes.values()) {
      const mark = one.markOf(markId);
      if (mark === undefined) continue;
      if (!mayChange(mark.athleteId)) return failed<Refusal>(refusals.ownAthleteOnly);
      one.removeMark(mark, this.toSessionMs(now));
      return ok(mark);
    }
    return failed<Refusal>(refusals.unknownMark);
  }

  rateHold(athleteId: string, holdId: string, feeling: HoldFeeling): Result<true, Refusal> {
    return this.#athletes.get(athleteId)?.rateHold(holdId, feeling) ?? failed<Refusal>(refusals.notInSession);
  }

  /** Of an athlete who is not in the session, nothing follows. */
  changeSettings(athlete: Athlete, now: ProcessMs): void {
    this.#athletes.get(athlete.athleteId)?.changeSettings(athlete, this.toSessionMs(now));
  }

  /** Lets the pipelines come to `now`; the session as it then stands, over. */
  end(now: ProcessMs): Session {
    const endedAtMs = this.toSessionMs(now);
    for (const one of this.#athletes.values()) one.end(endedAtMs);
    return { ...this.session, endedAtMs };
  }

  #wearerOf(sensorId: string): MonitoredAthlete | undefined {
    const athleteId = this.#parts.registry.athleteOf(sensorId);
    return athleteId === undefined ? undefined : this.#athletes.get(athleteId);
  }
}
