// Takes up a session that an earlier process left: decides whether that is right, makes its pipelines anew, and has it recorded
// on. Changes nothing that lives; the hub makes the running session of what it answers.

import { type Said, said } from '../../shared/said.ts';
import { type ProcessMs, processMs } from '../../shared/units.ts';
import type { Athlete, UnwatchedSpan } from '../../shared/views.ts';
import type { PipelineFactory } from '../../src/pipeline.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import type { HubLog } from '../base/log.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import type { StoredSession } from '../base/ports/stored-session.ts';
import { storedPriorOf } from '../recorder/stored-prior.ts';
import type { Session, SessionMark } from './live-event.ts';
import type { ToldBefore } from './monitored-athlete.ts';
import { resumeDecision, type TimeNow } from './resume-decision.ts';
import type { BrokenOff } from './session-lapse.ts';
import { type Membership, membershipOf, type RebuiltAthlete, rebuildAthletes } from './session-rebuild.ts';
import type { SupervisionMemory } from './supervision.ts';

export interface ResumeParts {
  readonly store: HubStore;
  readonly log: HubLog;
  readonly createPipeline: PipelineFactory;
  /** Everybody on the list. */
  readonly athletes: readonly Athlete[];
  readonly hubVersion: string;
  readonly dataOfTheHub: boolean;
  readonly memory: Pick<SupervisionMemory, 'attemptsAt' | 'noteAttempt'>;
  readonly timeNow: () => TimeNow;
  readonly processNowMs: () => ProcessMs;
  readonly record: (stored: StoredSession, gap: UnwatchedSpan) => Promise<void>;
}

export interface ResumedSession {
  readonly session: Session;
  readonly span: UnwatchedSpan;
  /** How often each athlete has come to it so far. */
  readonly stays: ReadonlyMap<string, number>;
  readonly athletes: readonly (RebuiltAthlete & { readonly told: ToldBefore })[];
}

/** The session as it goes on, or why a person has to decide. */
export async function resumeSession(
  { session: { sessionId }, cause }: BrokenOff,
  parts: ResumeParts,
): Promise<Result<ResumedSession, Said>> {
  const { store, log, createPipeline, hubVersion, dataOfTheHub, timeNow } = parts;
  try {
    const stored = await store.readSession(sessionId);
    if (stored === undefined) return failed(said('resume.damaged'));
    const attempts = parts.memory.attemptsAt(sessionId);
    const athleteIds = parts.athletes.map(({ athleteId }) => athleteId);
    const decide = () =>
      resumeDecision({ stored, now: timeNow(), hubVersion, athleteIds, attempts, dataOfTheHub, cause });
    // Asked before the work, and of the time after it.
    const first = decide();
    if (!first.ok) return first;
    parts.memory.noteAttempt(sessionId);
    const membership = membershipOf(stored);
    const rebuilt = await rebuildAthletes({
      store,
      stored,
      membership,
      athletes: parts.athletes.filter(({ athleteId }) => membership.present.has(athleteId)),
      createPipeline,
      priorOf: (athleteId) => storedPriorOf(store, athleteId),
    });
    const decided = decide();
    if (!decided.ok) return decided;
    const span = decided.value;
    const zeroMs = processMs(parts.processNowMs() - span.toMs);
    await parts.record(stored, span);
    parts.memory.noteAttempt(null);
    log.info(`resumed ${sessionId}`);
    return ok({
      session: sessionOf(stored, membership, span, zeroMs),
      span,
      stays: membership.stays,
      athletes: rebuilt.map((one) => ({ ...one, told: toldOf(stored, one) })),
    });
  } catch (error) {
    log.error('not resumed', error);
    return failed(said('resume.notWritten'));
  }
}

function sessionOf(
  { session }: StoredSession,
  { present }: Membership,
  span: UnwatchedSpan,
  zeroMs: ProcessMs,
): Session {
  const { sessionId, startedWallAtMs, simulated, source, title, unwatched, leaders } = session;
  return {
    sessionId,
    startedWallAtMs,
    zeroMs,
    endedAtMs: undefined,
    simulated,
    source,
    title,
    athleteIds: [...present.keys()],
    unwatched: [...unwatched, span],
    leaders,
  };
}

function toldOf(stored: StoredSession, { athlete, known }: RebuiltAthlete): ToldBefore {
  const { athleteId } = athlete;
  return {
    marks: stored.marks.flatMap(({ mark, removed, saidAtMs }): SessionMark[] =>
      removed || mark.athleteId !== athleteId
        ? []
        : [{ ...mark, text: mark.text ?? undefined, saidAtMs: saidAtMs ?? mark.atMs }],
    ),
    feelings: new Map(
      stored.holds.flatMap(({ athleteId: of, hold }) =>
        of === athleteId && hold.feeling !== undefined ? [[hold.holdId, hold.feeling] as const] : [],
      ),
    ),
    holds: known.holds,
  };
}
