// One page at its socket: greets it, answers each of its requests by the request's id, and sends it its own part of the
// plan that runs.

import * as z from 'zod/mini';
import { closeCodes } from '../../shared/error-codes.ts';
import { fillBlock, liveFrame } from '../../shared/live-frame/write-live-frame.ts';
import type { DownMessage } from '../../shared/messages/down.ts';
import type { TakeCuesMessage } from '../../shared/messages/take-cues.ts';
import { type UpMessage, upMessageSchema } from '../../shared/messages/up.ts';
import type { CurrentPlanRunBody } from '../../shared/plan-run.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';
import { said } from '../../shared/said.ts';
import type { PresentPage } from '../../shared/views.ts';
import type { Result } from '../../src/result.ts';
import type { AuditLog } from '../base/ports/audit-log.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { Refusal } from '../base/refusal.ts';
import type { Hub } from '../live/hub.ts';
import { refusals } from '../live/refusals.ts';
import { maySee, type PageAccess } from './access.ts';
import { auditEntry } from './audit.ts';
import type { CueSpeaker } from './cue-speaker.ts';
import type { LiveChange } from './live-changes.ts';
import type { PageConnection } from './page-connection.ts';
import type { PageFeed } from './page-feed.ts';
import { carryOut, isToBeSaved, notePageState, type PageRequest } from './page-requests.ts';
import type { Presence } from './presence.ts';
import { visiblePart, visibleSession } from './visible-part.ts';
import { visiblePlanRun } from './visible-plan-run.ts';

/** Requests a page may make in one second before it is told to wait; a person taps far slower. */
const mostRequestsPerSecond = 40;

const notUnderstood: Refusal = {
  code: 'badMessage',
  said: said('refusal.notUnderstood'),
};
const notGreeted: Refusal = {
  code: 'badMessage',
  said: said('refusal.notGreeted'),
};
const tooMany: Refusal = { code: 'tooManyRequests', said: said('refusal.tooManyRequests') };

export interface SocketPageParts {
  readonly pageId: string;
  readonly access: PageAccess;
  readonly connection: PageConnection;
  readonly hub: Hub;
  readonly feed: PageFeed;
  readonly presence: Presence;
  readonly cueSpeaker: CueSpeaker;
  readonly audit: AuditLog;
  readonly clock: Clock;
  /** Who is at a page now. */
  readonly presentPages: () => PresentPage[];
  readonly currentPlanRun: () => CurrentPlanRunBody;
  readonly close: (code: number, reason: string) => void;
}

export class SocketPage {
  readonly #parts: SocketPageParts;
  #access: PageAccess;
  #greeted = false;
  #windowStartMs = 0;
  #requestsInWindow = 0;
  /** The plan's run as this page has it. */
  #toldRun: { readonly runId: string | null; readonly eventCount: number; readonly ended: boolean } = {
    runId: null,
    eventCount: 0,
    ended: false,
  };

  /** Of a page that sees only some: its sensors as it was last told, as text. */
  #toldSensors = '';

  constructor(parts: SocketPageParts) {
    this.#parts = parts;
    this.#access = parts.access;
  }

  get access(): PageAccess {
    return this.#access;
  }

  /** Whom a coach of some rooms may see changes with who comes to train there: they are told of everybody anew. */
  renewAccess(access: PageAccess): void {
    if (String(access.athleteIds) === String(this.#access.athleteIds)) return;
    this.#access = access;
    if (this.#greeted) this.#tellPart(this.#parts.feed.welcome(null).session);
  }

  get greeted(): boolean {
    return this.#greeted;
  }

  /** A message for every page that may see it; `wholeText` writes it once for all that see it whole. */
  deliver(message: DownMessage, wholeText: () => Buffer): void {
    if (message.type === 'sensors' && this.access.athleteIds !== 'all') {
      this.#tellOwnSensors();
      return;
    }
    const part = visiblePart(this.access, message);
    if (part === undefined) return;
    if (part === message) this.#parts.connection.deliver(message, wholeText());
    else this.#tell(part);
  }

  deliverLive(changes: readonly LiveChange[], frame: Uint8Array): void {
    this.#parts.connection.deliverLive(changes, frame);
  }

  received(text: string | undefined, nowMs: number): void {
    const message = text === undefined ? undefined : parseUp(text);
    const isTooMany = this.#countRequest(nowMs) > mostRequestsPerSecond;
    if (message === undefined) {
      this.#refuse(null, notUnderstood);
      return;
    }
    const requestId = 'requestId' in message ? message.requestId : null;
    if (isTooMany) this.#refuse(requestId, tooMany);
    else if (message.type === 'hello') this.#greet(message);
    else if (!this.#greeted) this.#refuse(requestId, notGreeted);
    else if (message.type === 'pageState') this.#noteState(message);
    else if (message.type === 'takeCues') this.#takeCues(message);
    else this.#answer(message);
  }

  /** What is new of the plan that runs, as far as this page may see it. */
  tellPlanRun(): void {
    const whole = this.#parts.currentPlanRun();
    // A run whose end was taken back has another past than the page was told.
    const isEnded = whole.run?.endedAtMs !== null;
    const isSame = whole.run?.runId === this.#toldRun.runId && (isEnded || !this.#toldRun.ended);
    const current = visiblePlanRun(this.access, whole, isSame ? this.#toldRun.eventCount : 0);
    this.#toldRun = {
      runId: current.run?.runId ?? null,
      eventCount: current.since + current.events.length,
      ended: isEnded,
    };
    this.#tell({ type: 'planRun', current });
  }

  #greet({ protocolVersion: version, resume }: Extract<UpMessage, { type: 'hello' }>): void {
    const { feed, presentPages, close, connection } = this.#parts;
    if (version !== protocolVersion) {
      this.#refuse(null, {
        code: 'wrongProtocolVersion',
        said: said('refusal.wrongVersion', { page: version, hub: protocolVersion }),
      });
      close(closeCodes.wrongProtocolVersion, 'wrong protocol version');
      return;
    }
    const { role, athleteIds, deviceId } = this.access;
    const { welcome, fill, session: sessionMessage } = feed.welcome(resume);
    // Whose athlete left the session that runs on watched it to its end, as far as it was theirs.
    const { session } = welcome;
    const hasLeft =
      session !== null &&
      session.sessionId === resume?.sessionId &&
      visibleSession(this.access, session) === null;
    this.#tellPart({
      ...welcome,
      ...(hasLeft && { endedSessionId: session.sessionId }),
      role,
      athleteIds: athleteIds === 'all' ? 'all' : [...athleteIds],
      deviceId,
    });
    connection.introduce(
      liveFrame(fill.filter(({ athleteId }) => maySee(this.access, athleteId)).map(fillBlock)),
    );
    for (const message of [
      sessionMessage,
      feed.supervision(),
      feed.course(),
      ...feed.coachWords(),
      this.#parts.cueSpeaker.message,
      feed.sensors(),
      { type: 'presence', pages: presentPages() } as const,
    ])
      this.#tellPart(message);
    connection.introduce(feed.whole((athleteId) => maySee(this.access, athleteId)));
    this.#greeted = true;
    this.#toldRun = { runId: null, eventCount: 0, ended: false };
    this.tellPlanRun();
  }

  /** To a page that sees only some: a change may be that one has become theirs or another's. */
  #tellOwnSensors(): void {
    const own = visiblePart(this.access, this.#parts.feed.sensors());
    const text = JSON.stringify(own);
    if (own === undefined || text === this.#toldSensors) return;
    this.#toldSensors = text;
    this.#tell(own);
  }

  #takeCues({ requestId, speakerId, takes }: TakeCuesMessage): void {
    const { cueSpeaker, pageId } = this.#parts;
    if (this.access.role === 'onlooker') {
      this.#refuse(requestId, refusals.onlookerChanges);
      return;
    }
    if (takes) cueSpeaker.take(pageId, speakerId, this.access.deviceName);
    else cueSpeaker.giveUp(speakerId);
    this.#tell({ type: 'done', requestId });
  }

  #noteState(message: Extract<UpMessage, { type: 'pageState' }>): void {
    const { hub, pageId, presence } = this.#parts;
    presence.said(pageId, message);
    this.#parts.connection.setHidden(!message.visible);
    notePageState(hub, pageId, this.access, message);
  }

  #answer(request: PageRequest): void {
    const { hub } = this.#parts;
    const floorBefore = 'athleteId' in request ? floorOf(hub, request.athleteId) : undefined;
    const carried = carryOut(hub, request, this.access);
    if (carried.ok) this.#audit(request, floorBefore);
    const saved = carried.ok && isToBeSaved(request) ? hub.whenSaved() : undefined;
    if (saved === undefined) this.#answerBy(request, carried);
    else void saved.then((isSaved) => this.#answerBy(request, isSaved));
  }

  #answerBy({ requestId }: PageRequest, result: Result<unknown, Refusal>): void {
    if (result.ok) this.#tell({ type: 'done', requestId });
    else this.#refuse(requestId, result.reason);
  }

  #audit(request: PageRequest, before: number | undefined): void {
    const { audit, clock, hub } = this.#parts;
    if (request.type === 'acknowledgeAlarms') {
      const { athleteId } = request;
      const sessionId = hub.session?.sessionId ?? null;
      audit.append(auditEntry(this.access, 'alarmsAcknowledged', clock, { athleteId, sessionId }));
    }
    if (request.type !== 'changeSettings') return;
    const { athleteId } = request;
    const after = floorOf(hub, athleteId);
    const floorPercent =
      before === undefined || after === undefined || before === after ? null : { before, after };
    audit.append(auditEntry(this.access, 'settingsChanged', clock, { athleteId, floorPercent }));
  }

  #refuse(requestId: string | null, { code, said }: Refusal): void {
    this.#tell({ type: 'refused', requestId, code, said });
  }

  /** As far as this page may see it. */
  #tellPart(message: DownMessage): void {
    const part = visiblePart(this.access, message);
    if (part !== undefined) this.#tell(part);
  }

  #tell(message: DownMessage): void {
    this.#parts.connection.deliver(message, JSON.stringify(message));
  }

  /** Requests of the present second, this one among them. */
  #countRequest(nowMs: number): number {
    if (nowMs - this.#windowStartMs > 1_000) {
      this.#windowStartMs = nowMs;
      this.#requestsInWindow = 0;
    }
    this.#requestsInWindow += 1;
    return this.#requestsInWindow;
  }
}

const floorOf = (hub: Hub, wanted: string): number | undefined =>
  hub.athletes.find(({ athleteId }) => athleteId === wanted)?.settings.floorSpo2Percent;

function parseUp(text: string): UpMessage | undefined {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    // Not JSON: answered with badMessage like any other malformed request.
    return undefined;
  }
  const checked = z.safeParse(upMessageSchema, value);
  return checked.success ? checked.data : undefined;
}
