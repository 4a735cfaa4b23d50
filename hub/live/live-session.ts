// The session being recorded: who is in it and whose sensor is whose, both of which can change, session time, and which
// athlete an event is for. Each packet is published, and so recorded, before it goes through its athlete's pipeline.

import { said } from '../../shared/said.ts';
import type { MarkKind } from '../../shared/schema-parts.ts';
import { type MonotonicMs, monotonicMs, type ProcessMs, processMs, wallMs } from '../../shared/units.ts';
import type { Athlete, HoldFeeling, UnwatchedSpan } from '../../shared/views.ts';
import type { PipelineEvent } from '../../src/pipeline.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import type { SensorPacket, SensorStatus } from '../base/ports/sensor-source.ts';
import type { Refusal } from '../base/refusal.ts';
import type { LiveListener, Session, SessionMark } from './live-event.ts';
import type { AthleteSnapshot, MonitoredAthlete } from './monitored-athlete.ts';
import { refusals } from './refusals.ts';
import type { SensorRegistry } from './sensor-registry.ts';
import { SensorsWorn } from './sensors-worn.ts';

export interface MarkRequest {
  readonly athleteId: string;
  readonly kind: MarkKind;
  /** The session time meant; null, or a time to come, means now. */
  readonly atMs: MonotonicMs | null;
  readonly text: string | null;
  readonly requestId?: string;
}

/** Whose a sensor is to be; nobody's when null. */
export interface SensorMove {
  readonly sensorId: string;
  readonly athleteId: string | null;
}

interface LatePackets {
  /** Recorded, and since when. */
  readonly count: number;
  readonly fromMs: MonotonicMs;
  readonly notKept: number;
  readonly athleteId: string | null;
}

/** A moment after another. A fraction that the recorder keeps exactly. */
const momentMs = 1 / 8;

export interface LiveSessionParts {
  readonly session: Session;
  readonly athletes: readonly MonitoredAthlete[];
  /** How often each has come already, where an earlier process began the session. */
  readonly stays?: ReadonlyMap<string, number>;
  readonly registry: SensorRegistry;
  readonly publish: LiveListener;
  readonly makeId: () => string;
}

export class LiveSession {
  readonly #parts: LiveSessionParts;
  readonly #athletes: Map<string, MonitoredAthlete>;
  /** How often each has come. */
  readonly #stays = new Map<string, number>();
  readonly #lastPacketAtMs = new Map<string, number>();
  /** What came late of a sensor, until it is heard as things happen again; and whose it was last. */
  readonly #late = new Map<string, LatePackets>();
  readonly #worn = new SensorsWorn();
  /** Since when a sensor that changed hands is its wearer's. */
  readonly #wornSinceMs = new Map<string, MonotonicMs>();
  #session: Session;

  constructor(parts: LiveSessionParts) {
    this.#parts = parts;
    this.#session = parts.session;
    for (const { athlete } of parts.athletes) this.#stays.set(athlete.athleteId, 1);
    for (const [athleteId, stays] of parts.stays ?? []) this.#stays.set(athleteId, stays);
    this.#athletes = new Map(parts.athletes.map((one) => [one.athlete.athleteId, one]));
  }

  get session(): Session {
    return this.#session;
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
    if (packet.isLate) {
      this.#latePacket(packet);
      return;
    }
    const one = this.#wearerOf(packet.sensorId);
    if (one === undefined) return;
    const { sensorId, characteristic, bytes } = packet;
    // One that was on its way while the sensor changed hands is the new wearer's, who is recorded as such from then on.
    const wornSinceMs = this.#wornSinceMs.get(sensorId) ?? 0;
    const atMs = monotonicMs(Math.max(wornSinceMs, this.toSessionMs(packet.receivedAtMs)));
    const { athleteId } = one.athlete;
    this.#publishPacket(packet, athleteId, atMs);
    this.#tellLate(sensorId, athleteId, atMs);
    one.push({ type: 'packet', atMs, sensorId, characteristic, bytes });
  }

  /**
   * Recorded where it belongs, for whoever wore the sensor then: what alarms and detector made of the silence stands. What was
   * sent before the session, or while nobody of it wore the sensor, belongs to no part of it.
   */
  #latePacket(packet: SensorPacket): void {
    const { sensorId, characteristic, bytes, receivedAtMs } = packet;
    const atMs = this.toSessionMs(receivedAtMs);
    const isBefore = receivedAtMs < this.session.zeroMs;
    const athleteId = isBefore ? null : this.#wearerThen(sensorId, atMs);
    const known = this.#late.get(sensorId) ?? { count: 0, fromMs: atMs, notKept: 0, athleteId };
    if (athleteId === null) {
      this.#late.set(sensorId, { ...known, notKept: known.notKept + 1 });
      return;
    }
    const fromMs = known.count === 0 ? atMs : known.fromMs;
    this.#late.set(sensorId, { ...known, athleteId, fromMs, count: known.count + 1 });
    this.#publishPacket(packet, athleteId, atMs);
    // Of now it says no more than how its sensor's stream of bytes goes on.
    if (this.#wearerOf(sensorId)?.athlete.athleteId === athleteId)
      this.push(athleteId, { type: 'packet', atMs, sensorId, characteristic, bytes, isLate: true });
  }

  #publishPacket(packet: SensorPacket, athleteId: string, atMs: MonotonicMs): void {
    const { sensorId, characteristic, bytes } = packet;
    this.#lastPacketAtMs.set(sensorId, Math.max(atMs, this.#lastPacketAtMs.get(sensorId) ?? 0));
    const wallAtMs = wallMs(this.session.startedWallAtMs + atMs);
    this.#parts.publish({
      type: 'packet',
      athleteId,
      packet: { sensorId, characteristic, bytes, atMs, wallAtMs },
    });
  }

  #wearerThen(sensorId: string, atMs: MonotonicMs): string | null {
    const known = this.#worn.at(sensorId, atMs);
    return known === undefined ? (this.#wearerOf(sensorId)?.athlete.athleteId ?? null) : known;
  }

  /** What came late is marked in the recording, and what of it belonged to nobody. The link itself is what it was. */
  #tellLate(sensorId: string, wearerId: string | null, atMs: MonotonicMs): void {
    const late = this.#late.get(sensorId);
    const sensor = this.#parts.registry.status(sensorId);
    if (late === undefined || sensor === undefined) return;
    this.#late.delete(sensorId);
    const athleteId = wearerId ?? late.athleteId;
    if (athleteId === null) return;
    const tell = (status: SensorStatus): void =>
      this.#parts.publish({ type: 'link', athleteId, atMs, sensor: status });
    const { count, notKept } = late;
    const forS = Math.round((atMs - late.fromMs) / 1_000);
    if (count > 0) tell({ ...sensor, link: 'connecting', detail: said('link.cameLate', { count, forS }) });
    if (notKept > 0)
      tell({ ...sensor, link: 'connecting', detail: said('link.cameForNobody', { count: notKept }) });
    if (sensor.link !== 'connecting') tell(sensor);
  }

  link(sensor: SensorStatus, atProcessMs: ProcessMs): void {
    this.#linkAt(sensor, this.toSessionMs(atProcessMs));
  }

  #linkAt(sensor: SensorStatus, atMs: MonotonicMs): void {
    const one = this.#wearerOf(sensor.sensorId);
    if (one === undefined) return;
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

  isIn(athleteId: string): boolean {
    return this.#athletes.has(athleteId);
  }

  /** How often they have come so far. */
  staysOf(athleteId: string): number {
    return this.#stays.get(athleteId) ?? 0;
  }

  /** Somebody who comes later, monitored from now on. */
  join(one: MonitoredAthlete, now: ProcessMs, by: string): void {
    const { athlete } = one;
    const { athleteId } = athlete;
    this.#stays.set(athleteId, this.staysOf(athleteId) + 1);
    this.#athletes.set(athleteId, one);
    this.#session = { ...this.#session, athleteIds: [...this.#session.athleteIds, athleteId] };
    const sensors = this.#parts.registry.sensorsOf(athleteId);
    const atMs = this.#momentAfter(
      this.toSessionMs(now),
      sensors.map(({ sensorId }) => sensorId),
    );
    this.#parts.publish({ type: 'athleteJoined', athleteId, atMs, athlete, session: this.#session, by });
    for (const sensor of sensors) {
      this.#worn.change(sensor.sensorId, atMs, null, athleteId);
      this.#takeUp(sensor, atMs);
    }
  }

  /** Their alarms end with a record, and nothing more of theirs is taken in. Answers whether they were there. */
  leave(athleteId: string, now: ProcessMs, by: string): boolean {
    const one = this.#athletes.get(athleteId);
    if (one === undefined) return false;
    const worn = this.#parts.registry.sensorsOf(athleteId).map(({ sensorId }) => sensorId);
    const atMs = this.#momentAfter(this.toSessionMs(now), worn);
    one.end(atMs);
    for (const sensorId of worn) this.#worn.change(sensorId, atMs, athleteId, null);
    this.#athletes.delete(athleteId);
    const athleteIds = this.#session.athleteIds.filter((id) => id !== athleteId);
    this.#session = { ...this.#session, athleteIds };
    this.#parts.publish({ type: 'athleteLeft', athleteId, atMs, session: this.#session, by });
    return true;
  }

  /** All at one moment, so that two can be exchanged. The alarms that stand go on standing. */
  moveSensors(moves: readonly SensorMove[], now: ProcessMs, by: string): void {
    const { registry, publish } = this.#parts;
    const real = moves.filter(
      ({ sensorId, athleteId }) => (registry.athleteOf(sensorId) ?? null) !== athleteId,
    );
    const atMs = this.#momentAfter(
      this.toSessionMs(now),
      real.map(({ sensorId }) => sensorId),
    );
    for (const { sensorId, athleteId } of real) {
      const from = registry.athleteOf(sensorId);
      const fromAthleteId = from !== undefined && this.isIn(from) ? from : null;
      const toAthleteId = athleteId !== null && this.isIn(athleteId) ? athleteId : null;
      registry.assign(sensorId, athleteId);
      this.#worn.change(sensorId, atMs, fromAthleteId, toAthleteId);
      if (fromAthleteId === null && toAthleteId === null) continue;
      const name = registry.status(sensorId)?.name ?? sensorId;
      publish({ type: 'sensorMoved', atMs, sensorId, name, fromAthleteId, toAthleteId, by });
      if (fromAthleteId !== null)
        this.#athletes.get(fromAthleteId)?.push({ type: 'sensorGone', atMs, sensorId });
    }
    // After all have been given away: whoever gets one for another is never told of both.
    for (const { sensorId } of real) {
      const sensor = registry.status(sensorId);
      if (sensor !== undefined) this.#takeUp(sensor, atMs);
    }
  }

  advance(atProcessMs: ProcessMs): void {
    const atMs = this.toSessionMs(atProcessMs);
    for (const one of this.#athletes.values()) one.push({ type: 'advance', atMs });
  }

  advanceOne(athleteId: string, atProcessMs: ProcessMs): void {
    this.#athletes.get(athleteId)?.push({ type: 'advance', atMs: this.toSessionMs(atProcessMs) });
  }

  /** Nobody was watched in `span`, which ends now; the session's time goes on by `shiftMs` more than the process's did. */
  passUnwatched(span: UnwatchedSpan, shiftMs: number): void {
    const { zeroMs, unwatched } = this.#session;
    this.#session = {
      ...this.#session,
      zeroMs: processMs(zeroMs - shiftMs),
      unwatched: [...unwatched, span],
    };
    this.#parts.publish({ type: 'unwatched', session: this.#session, span, shiftMs });
    // Of a hub that only stood still, what the sensors sent meanwhile is still to come.
    if (span.cause === 'hubStalled') return;
    for (const one of this.#athletes.values())
      one.push({ type: 'unwatched', fromMs: span.fromMs, atMs: span.toMs });
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
      saidAtMs: nowMs,
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
    for (const sensorId of [...this.#late.keys()]) {
      const wearerId = this.#wearerOf(sensorId)?.athlete.athleteId ?? null;
      this.#tellLate(sensorId, wearerId, endedAtMs);
    }
    for (const one of this.#athletes.values()) one.end(endedAtMs);
    return { ...this.session, endedAtMs };
  }

  /** After `atMs` and after everything that these sensors have brought: each packet has one wearer. */
  #momentAfter(atMs: MonotonicMs, sensorIds: readonly string[]): MonotonicMs {
    const last = Math.max(0, ...sensorIds.map((sensorId) => this.#lastPacketAtMs.get(sensorId) ?? 0));
    return monotonicMs(last < atMs ? atMs : last + momentMs);
  }

  /** A sensor is its wearer's from `atMs` on: as on a new link, nothing that was half sent before counts. */
  #takeUp(sensor: SensorStatus, atMs: MonotonicMs): void {
    this.#wornSinceMs.set(sensor.sensorId, atMs);
    this.#linkAt({ ...sensor, link: 'connecting', detail: said('link.changedHands') }, atMs);
    if (sensor.link !== 'connecting') this.#linkAt(sensor, atMs);
  }

  #wearerOf(sensorId: string): MonitoredAthlete | undefined {
    const athleteId = this.#parts.registry.athleteOf(sensorId);
    return athleteId === undefined ? undefined : this.#athletes.get(athleteId);
  }
}
