// The recorder that forgets: everything of `Store` in memory, for tests and for a demo that leaves no trace.

import type { MonotonicMs } from '../../shared/units.ts';
import type { Athlete, AthleteSettings, SessionView } from '../../shared/views.ts';
import { HubError } from '../base/hub-error.ts';
import type {
  DocumentKind,
  ImportedPart,
  PacketColumns,
  SessionStart,
  Store,
  StoredAlarm,
  StoredCorrection,
  StoredDocument,
  StoredHold,
  StoredLinkEvent,
  StoredMark,
  StoredPacket,
  StoredSensor,
  StoredSession,
  StoredSessionSummary,
} from '../base/ports.ts';
import { columnsOfPackets, decodeChunk, packetsOf } from './packet-chunk.ts';
import { wearerOf } from './sensor-wearers.ts';

interface MemorySession {
  session: SessionView;
  athletes: readonly Athlete[];
  readonly profiles: StoredSession['profiles'];
  readonly sensors: Map<string, StoredSensor>;
  readonly marks: Map<string, StoredMark>;
  readonly holds: Map<string, StoredHold>;
  readonly alarms: Map<string, StoredAlarm>;
  settingsChanges: StoredSession['settingsChanges'][number][];
  linkEvents: StoredLinkEvent[];
  corrections: StoredCorrection[];
  /** By athlete. */
  readonly summaries: Map<string, { readonly madeBy: string; readonly body: unknown }>;
  packets: StoredPacket[];
  pending: StoredPacket[];
  lastAtMs: number;
}

/** A `Store` without a file. Never full, never damaged, and gone with the process. */
export class MemoryStore implements Store {
  readonly interruptedSessionIds: readonly string[] = [];
  readonly notices: readonly string[] = [];
  readonly #athletes = new Map<string, Athlete>();
  readonly #assignments = new Map<string, string>();
  readonly #sessions = new Map<string, MemorySession>();
  readonly #documents = new Map<string, StoredDocument>();

  listAthletes(): readonly Athlete[] {
    return structuredClone([...this.#athletes.values()]);
  }

  saveAthlete(athlete: Athlete): void {
    this.commit();
    this.#athletes.set(athlete.athleteId, structuredClone(athlete));
  }

  removeAthlete(athleteId: string): void {
    this.commit();
    this.#athletes.delete(athleteId);
    for (const [sensorId, wearer] of this.#assignments)
      if (wearer === athleteId) this.#assignments.delete(sensorId);
  }

  eraseAthlete(athleteId: string): void {
    this.commit();
    const theirs = [...this.#sessions.values()].filter((s) => s.session.athleteIds.includes(athleteId));
    if (theirs.some((s) => s.session.status === 'recording'))
      throw new HubError('data.refused', 'This athlete is being recorded. End the session first.');
    for (const session of theirs) {
      if (session.session.athleteIds.length === 1) {
        this.#sessions.delete(session.session.sessionId);
        continue;
      }
      const sensors = [...session.sensors.values()];
      const isTheirs = (event: { readonly sensorId: string; readonly atMs: number }): boolean =>
        wearerOf(sensors, event.sensorId, event.atMs) === athleteId;
      session.packets = session.packets.filter((packet) => !isTheirs(packet));
      session.linkEvents = session.linkEvents.filter((event) => !isTheirs(event));
      session.settingsChanges = session.settingsChanges.filter((change) => change.athleteId !== athleteId);
      session.corrections = session.corrections.filter((correction) => correction.athleteId !== athleteId);
      session.summaries.delete(athleteId);
      removeWhere(session.marks, (mark) => mark.mark.athleteId === athleteId);
      removeWhere(session.holds, (hold) => hold.athleteId === athleteId);
      removeWhere(session.alarms, (alarm) => alarm.athleteId === athleteId);
      removeWhere(session.sensors, (sensor) => sensor.athleteId === athleteId);
      session.athletes = session.athletes.filter((athlete) => athlete.athleteId !== athleteId);
      session.session = {
        ...session.session,
        athleteIds: session.session.athleteIds.filter((id) => id !== athleteId),
      };
    }
    removeWhere(this.#documents, (document) => document.athleteId === athleteId);
    this.removeAthlete(athleteId);
  }

  assignSensor(sensorId: string, athleteId: string | null): void {
    if (athleteId !== null && !this.#athletes.has(athleteId))
      throw new HubError('data.refused', `There is no athlete ${athleteId} to give a sensor to.`);
    this.commit();
    if (athleteId === null) this.#assignments.delete(sensorId);
    else this.#assignments.set(sensorId, athleteId);
  }

  sensorAssignments(): ReadonlyMap<string, string> {
    return new Map(this.#assignments);
  }

  startSession(start: SessionStart): void {
    if (this.#sessions.has(start.sessionId))
      throw new HubError('data.refused', `There already is a session ${start.sessionId}.`);
    this.commit();
    const athletes = start.athletes.map(({ athlete }) => structuredClone(athlete));
    const session: MemorySession = {
      session: {
        sessionId: start.sessionId,
        startedWallAtMs: start.startedWallAtMs,
        endedAtMs: null,
        status: 'recording',
        simulated: start.simulated,
        source: start.source,
        title: start.title,
        athleteIds: athletes.map((athlete) => athlete.athleteId),
      },
      athletes,
      profiles: structuredClone(start.profiles ?? []),
      sensors: new Map(),
      marks: new Map(),
      holds: new Map(),
      alarms: new Map(),
      settingsChanges: [],
      linkEvents: [],
      corrections: [],
      summaries: new Map(),
      packets: [],
      pending: [],
      lastAtMs: 0,
    };
    this.#sessions.set(start.sessionId, session);
    for (const { athlete, sensors } of start.athletes)
      for (const sensor of sensors)
        this.saveSessionSensor(start.sessionId, {
          ...sensor,
          athleteId: athlete.athleteId,
          fromMs: 0 as MonotonicMs,
        });
  }

  endSession(sessionId: string, endedAtMs: MonotonicMs): void {
    const session = this.#recording(sessionId);
    this.commit();
    session.session = { ...session.session, status: 'ended', endedAtMs };
  }

  saveSessionSensor(sessionId: string, sensor: StoredSensor): void {
    const session = this.#existing(sessionId);
    this.commit();
    session.sensors.set(`${sensor.sensorId}/${sensor.fromMs}`, structuredClone(sensor));
  }

  appendPacket(sessionId: string, packet: StoredPacket): void {
    this.#recording(sessionId).pending.push({ ...packet, bytes: new Uint8Array(packet.bytes) });
  }

  appendImported(sessionId: string, { chunks, marks, holds }: ImportedPart): void {
    this.#recording(sessionId);
    for (const { body } of chunks) {
      const chunk = decodeChunk(body);
      if (!chunk.ok) throw new HubError('data.failed', 'A part of an import could not be read.');
      for (const packet of packetsOf(chunk.value)) this.appendPacket(sessionId, packet);
    }
    for (const mark of marks) this.saveMark(sessionId, mark);
    for (const hold of holds) this.saveHold(sessionId, hold);
    this.commit();
  }

  commit(): void {
    for (const session of this.#sessions.values()) {
      if (session.pending.length === 0) continue;
      for (const packet of session.pending) {
        session.packets.push(packet);
        if (packet.atMs > session.lastAtMs) session.lastAtMs = packet.atMs;
      }
      session.pending = [];
    }
  }

  saveMark(sessionId: string, mark: StoredMark): void {
    const session = this.#saving(sessionId, mark.mark.atMs);
    session.marks.set(mark.mark.markId, structuredClone(mark));
  }

  saveHold(sessionId: string, hold: StoredHold): void {
    const session = this.#saving(sessionId, (hold.hold.end ?? hold.hold.start).atMs);
    session.holds.set(`${hold.athleteId}/${hold.hold.holdId}`, structuredClone(hold));
  }

  saveAlarm(sessionId: string, alarm: StoredAlarm): void {
    const session = this.#saving(sessionId, alarm.clearedAtMs ?? alarm.alarm.raisedAtMs);
    session.alarms.set(`${alarm.athleteId}/${alarm.alarm.alarmId}`, structuredClone(alarm));
  }

  saveSettingsChange(
    sessionId: string,
    athleteId: string,
    atMs: MonotonicMs,
    settings: AthleteSettings,
  ): void {
    const session = this.#saving(sessionId, atMs);
    session.settingsChanges.push({ athleteId, atMs, settings: structuredClone(settings) });
  }

  saveLinkEvent(sessionId: string, event: StoredLinkEvent): void {
    this.#saving(sessionId, event.atMs).linkEvents.push({ ...event });
  }

  addCorrection(sessionId: string, correction: StoredCorrection): void {
    const session = this.#existing(sessionId);
    if (session.corrections.some(({ step }) => step.correctionId === correction.step.correctionId))
      throw new HubError('data.refused', `There already is a correction ${correction.step.correctionId}.`);
    this.commit();
    session.corrections.push(structuredClone(correction));
    session.summaries.delete(correction.athleteId);
  }

  saveSummary(sessionId: string, athleteId: string, madeBy: string, body: unknown): void {
    const session = this.#existing(sessionId);
    this.commit();
    session.summaries.set(athleteId, { madeBy, body: structuredClone(body) });
  }

  listSummaries(athleteId: string, madeBy: string): ReadonlyMap<string, unknown> {
    return new Map(
      [...this.#sessions.values()].flatMap(({ session, summaries }): [string, unknown][] => {
        const summary = summaries.get(athleteId);
        return summary?.madeBy === madeBy ? [[session.sessionId, structuredClone(summary.body)]] : [];
      }),
    );
  }

  saveDocument(document: StoredDocument): void {
    this.commit();
    this.#documents.set(`${document.kind}/${document.documentId}`, structuredClone(document));
  }

  listDocuments(kind: DocumentKind, groupId?: string): readonly StoredDocument[] {
    return structuredClone(
      [...this.#documents.values()].filter(
        (document) => document.kind === kind && (groupId === undefined || document.groupId === groupId),
      ),
    );
  }

  readDocument(kind: DocumentKind, documentId: string): StoredDocument | undefined {
    return structuredClone(this.#documents.get(`${kind}/${documentId}`));
  }

  removeDocument(kind: DocumentKind, documentId: string): boolean {
    this.commit();
    const removed = this.#documents.delete(`${kind}/${documentId}`);
    if (removed) removeWhere(this.#documents, (document) => document.groupId === documentId);
    return removed;
  }

  listSessions(): readonly StoredSessionSummary[] {
    return [...this.#sessions.values()]
      .filter(({ session }) => session.status !== 'recording' || session.source !== 'import')
      .reverse()
      .sort((a, b) => b.session.startedWallAtMs - a.session.startedWallAtMs)
      .map((session) => ({
        session: structuredClone(session.session),
        athleteNames: session.athletes.map((athlete) => athlete.name),
        holdCount: [...session.holds.values()].filter((hold) => !hold.withdrawn).length,
        durationMs: durationOf(session),
      }));
  }

  readSession(sessionId: string): StoredSession | undefined {
    const session = this.#sessions.get(sessionId);
    if (session === undefined) return undefined;
    return structuredClone({
      session: session.session,
      athletes: session.athletes,
      profiles: session.profiles,
      sensors: [...session.sensors.values()],
      marks: [...session.marks.values()],
      holds: [...session.holds.values()],
      alarms: [...session.alarms.values()],
      settingsChanges: session.settingsChanges,
      linkEvents: session.linkEvents,
      corrections: session.corrections,
      durationMs: durationOf(session),
      damage: [],
    });
  }

  *readPackets(sessionId: string): Iterable<StoredPacket> {
    yield* this.#sessions.get(sessionId)?.packets ?? [];
  }

  *readPacketColumns(sessionId: string): Iterable<readonly PacketColumns[]> {
    const packets = this.#sessions.get(sessionId)?.packets ?? [];
    if (packets.length > 0) yield columnsOfPackets(packets);
  }

  deleteSession(sessionId: string): void {
    if (this.#existing(sessionId).session.status === 'recording')
      throw new HubError('data.refused', 'This session is being recorded. End it first.');
    this.commit();
    this.#sessions.delete(sessionId);
  }

  async writeDatabaseCopy(): Promise<void> {
    throw new HubError(
      'data.refused',
      'This hub keeps its recordings in memory only; there is no file to copy.',
    );
  }

  close(): void {
    this.commit();
  }

  #existing(sessionId: string): MemorySession {
    const session = this.#sessions.get(sessionId);
    if (session === undefined) throw new HubError('data.refused', `There is no session ${sessionId}.`);
    return session;
  }

  #recording(sessionId: string): MemorySession {
    const session = this.#existing(sessionId);
    if (session.session.status !== 'recording')
      throw new HubError('data.refused', `Session ${sessionId} is not being recorded.`);
    return session;
  }

  #saving(sessionId: string, atMs: number): MemorySession {
    const session = this.#existing(sessionId);
    this.commit();
    if (atMs > session.lastAtMs) session.lastAtMs = atMs;
    return session;
  }
}

function durationOf(session: MemorySession): number {
  return Math.max(session.lastAtMs, session.session.endedAtMs ?? 0);
}

function removeWhere<Value>(map: Map<string, Value>, unwanted: (value: Value) => boolean): void {
  for (const [key, value] of map) if (unwanted(value)) map.delete(key);
}
