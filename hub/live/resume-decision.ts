// Whether a session that broke off goes on by itself, and where in its time the hub stands now. Decides only; does nothing.

import { type Said, said } from '../../shared/said.ts';
import { type MonotonicMs, monotonicMs, type WallMs } from '../../shared/units.ts';
import type { UnwatchedSpan } from '../../shared/views.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import type { StoredSession } from '../base/ports/stored-session.ts';
import { membershipOf } from './session-rebuild.ts';

/**
 * After a gap this long a person decides. Our choice: a service is back within seconds, a computer that starts anew within
 * minutes; ten minutes later no hold that ran still runs, and whoever lay there may have left or given the sensors on.
 */
export const longestResumedGapMs = 600_000;
/**
 * What has ended the hub so often while it tried will end it again: then it is better there without the session. Our choice: a
 * kill that hits a start by chance is no reason yet.
 */
export const mostAttempts = 3;

/** The clocks as this process has them. */
export interface TimeNow {
  readonly wallMs: WallMs;
  /** Undefined where the system has no clock since boot. */
  readonly boot: { readonly bootId: string; readonly bootMs: number } | undefined;
}

export interface ResumeQuestion {
  readonly stored: StoredSession;
  readonly now: TimeNow;
  readonly hubVersion: string;
  /** Of all who are on the list. */
  readonly athleteIds: readonly string[];
  /** How often it was tried and the hub died over it. */
  readonly attempts: number;
  /** The sensors' data begin with the hub: a demo, a replay. */
  readonly dataOfTheHub: boolean;
  readonly cause: UnwatchedSpan['cause'];
}

/** The gap that ends now, or why a person has to decide. */
export function resumeDecision(question: ResumeQuestion): Result<UnwatchedSpan, Said> {
  const { stored, hubVersion, athleteIds, dataOfTheHub } = question;
  const { session } = stored;
  if (dataOfTheHub || (session.source !== 'live' && session.source !== 'simulated'))
    return failed(said('resume.dataOfTheHub'));
  if (question.attempts >= mostAttempts) return failed(said('resume.diedTrying'));
  if (stored.damage.length > 0) return failed(said('resume.damaged'));
  if (stored.madeBy !== hubVersion) return failed(said('resume.otherVersion'));
  if ([...membershipOf(stored).present.keys()].some((athleteId) => !athleteIds.includes(athleteId)))
    return failed(said('resume.athleteGone'));
  const span = gapUntil(stored, question.now, question.cause);
  if (span === undefined) return failed(said('resume.timeUnknown'));
  return span.toMs - span.fromMs > longestResumedGapMs
    ? failed(said('resume.tooLong', { minutes: longestResumedGapMs / 60_000 }))
    : ok(span);
}

/**
 * From the last that is recorded until now, in session time. Within one start of the computer the clock since boot says how
 * long it was, however the wall clock was set meanwhile; else only the wall clock can, and one that has gone back cannot.
 */
function gapUntil(
  { durationMs, alive }: StoredSession,
  { wallMs, boot }: TimeNow,
  cause: UnwatchedSpan['cause'],
): UnwatchedSpan | undefined {
  if (alive === undefined) return undefined;
  const sinceAliveMs =
    boot !== undefined && alive.bootId === boot.bootId ? boot.bootMs - alive.bootMs : wallMs - alive.wallMs;
  const fromMs: MonotonicMs = monotonicMs(durationMs);
  const toMs = monotonicMs(alive.atMs + sinceAliveMs);
  // What came after the last sign of life is recorded too: no clock that can be believed stands before it.
  if (!(toMs >= fromMs)) return undefined;
  return {
    fromMs,
    toMs,
    fromWallMs: (alive.wallMs + (fromMs - alive.atMs)) as WallMs,
    toWallMs: wallMs,
    cause,
  };
}
