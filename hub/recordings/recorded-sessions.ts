// Recordings as a reviewing page asks for them: from the store, worked out (derivations.ts), with corrections made by hand.

import type { AthleteRecording, RecordingBody } from '../../shared/http.ts';
import type { StoredPlanRun } from '../../shared/plan-run.ts';
import type { SensorProfile } from '../../src/profiles/sensor-profile.ts';
import { applyCorrections } from '../../src/sessions/apply-corrections.ts';
import { correctionsInForce } from '../../src/sessions/correction-steps.ts';
import { type SessionSummary, summariseSession } from '../../src/sessions/session-summary.ts';
import type { RecordingsLater } from '../base/ports/hub-store.ts';
import type { Columns, CorrectedRecording, Derived } from './corrected-recording.ts';
import { type Asking, Derivations, keyOf, type Subject } from './derivations.ts';
import { athleteIn, athleteRecordingOf, marksOf, recordingBodyOf, stepsOf } from './recording-view.ts';
import type { ReviewRunner } from './review/review-runner.ts';
import type { FileFormat } from './review/review-task.ts';
import { batchesOfSession, packetsOfSession } from './review/session-events.ts';
import { holdsToldLive } from './told-live.ts';

export class RecordedSessions {
  readonly #store: RecordingsLater;
  readonly #runner: ReviewRunner;
  /** Where figures for the weeks are worked out, which nobody has to wait for. */
  readonly #background: ReviewRunner;
  readonly #derivations: Derivations;
  /** Of derivations that are kept, so that it goes with them. */
  readonly #corrected = new WeakMap<Derived, CorrectedRecording>();

  /** `profiles` are today's, for sessions recorded before profiles were kept with them. */
  constructor(
    store: RecordingsLater,
    runner: ReviewRunner,
    profiles: () => readonly SensorProfile[] = () => [],
    background: ReviewRunner = runner,
  ) {
    this.#store = store;
    this.#runner = runner;
    this.#background = background;
    this.#derivations = new Derivations(store, runner, profiles);
  }

  /** At once, with holds as they were said live where they have not been worked out yet. `include` picks athletes. */
  async outline(
    sessionId: string,
    include: (athleteId: string) => boolean = () => true,
  ): Promise<RecordingBody | undefined> {
    const stored = await this.#store.readSession(sessionId);
    if (stored === undefined) return undefined;
    const athletes = stored.athletes
      .filter(({ athleteId }) => include(athleteId))
      .map(({ athleteId }) =>
        athleteRecordingOf(stored, athleteId, this.#correctedOf(keyOf(sessionId, athleteId))),
      );
    return recordingBodyOf(stored, athletes);
  }

  /** With everything worked out. `include` picks athletes; all of them, when left out. */
  async read(
    sessionId: string,
    asking: Asking,
    include: (athleteId: string) => boolean = () => true,
  ): Promise<RecordingBody | undefined> {
    const before = await this.#store.readSession(sessionId);
    const athleteIds = before?.athletes.map(({ athleteId }) => athleteId) ?? [];
    const athletes: AthleteRecording[] = [];
    for (const athleteId of athleteIds.filter(include)) {
      const athlete = await this.readAthlete(sessionId, athleteId, asking);
      if (athlete !== undefined) athletes.push(athlete);
    }
    const stored = await this.#store.readSession(sessionId);
    return stored === undefined ? undefined : recordingBodyOf(stored, athletes);
  }

  async readAthlete(
    sessionId: string,
    athleteId: string,
    asking: Asking,
  ): Promise<AthleteRecording | undefined> {
    const derived = await this.derive(sessionId, athleteId, asking);
    // Read anew: it may have changed, or be gone, while it was worked out.
    const subject = await this.#subject(sessionId, athleteId);
    return derived === undefined || subject === undefined
      ? undefined
      : athleteRecordingOf(subject.stored, athleteId, derived);
  }

  async derive(
    sessionId: string,
    athleteId: string,
    asking: Asking,
  ): Promise<CorrectedRecording | undefined> {
    const subject = await this.#subject(sessionId, athleteId);
    if (subject === undefined) return undefined;
    const key = keyOf(sessionId, athleteId);
    const known = this.#correctedOf(key);
    if (known !== undefined) return known;
    const before = this.#derivations.changeOf(key);
    const derived = await this.#derivations.derivedOf(subject, asking);
    const corrected = await this.#correct(subject, derived, asking);
    if (this.#derivations.changeOf(key) === before && this.#derivations.keptOf(key) === derived)
      this.#corrected.set(derived, corrected);
    return corrected;
  }

  /** How often something about it has changed. */
  changeOf(sessionId: string, athleteId: string): number {
    return this.#derivations.changeOf(keyOf(sessionId, athleteId));
  }

  /** It is at hand, with corrections, and nothing has to be read to have it. */
  isWorkedOut(sessionId: string, athleteId: string): boolean {
    return this.#correctedOf(keyOf(sessionId, athleteId)) !== undefined;
  }

  /** The figures of each hold for looking back over weeks, and nothing else. Undefined for a recording that is not there. */
  async summarise(sessionId: string, athleteId: string): Promise<SessionSummary | undefined> {
    const subject = await this.#subject(sessionId, athleteId);
    if (subject === undefined) return undefined;
    const { stored } = subject;
    const { marks } = marksOf(stored, athleteId);
    const known = this.#correctedOf(keyOf(sessionId, athleteId));
    if (known !== undefined)
      return summariseSession(
        known.holds.filter(({ hold }) => hold.proposed !== true),
        { marks: marks.map(({ mark }) => mark), liveHolds: holdsToldLive(stored, athleteId) },
      );
    return this.#background.run(
      {
        type: 'summarise',
        subject: this.#derivations.reviewSubjectOf(subject),
        marks,
        correctionSteps: stepsOf(stored, athleteId),
      },
      {
        packets: () => packetsOfSession(this.#store, stored),
        batches: batchesOfSession(this.#store, stored),
        urgency: 'background',
      },
    );
  }

  /** How much of it is worked out, 0 to 1; null while nobody asks for it. */
  progress(sessionId: string, athleteId: string): number | null {
    return this.#derivations.progressOf(keyOf(sessionId, athleteId));
  }

  /**
   * Every sample by channel: `raw` as the sensors sent it, `cleaned` with the quality the pipeline gave. While that is
   * being worked out, the raw ones stand in, without waves and with `cleaned` false.
   */
  async traces(
    sessionId: string,
    athleteId: string,
    signals: 'raw' | 'cleaned',
    asking: Asking,
  ): Promise<{ readonly columns: Columns; readonly cleaned: boolean } | undefined> {
    const subject = await this.#subject(sessionId, athleteId);
    if (subject === undefined) return undefined;
    const { sent, cleaned } = await this.#derivations.columnsOf(subject, asking);
    return signals === 'raw' || cleaned === undefined
      ? { columns: sent, cleaned: false }
      : { columns: cleaned, cleaned: true };
  }

  /** The recording as a file. `planRuns` are those of the session, for a file that holds all of it. */
  async file(
    sessionId: string,
    athleteId: string,
    format: FileFormat,
    asking: Asking,
    planRuns: readonly StoredPlanRun[] = [],
  ): Promise<Uint8Array | undefined> {
    // A session file holds what was recorded and nothing that can be worked out of it again.
    const derived =
      format === 'session' ? { holds: [], gaps: [] } : await this.derive(sessionId, athleteId, asking);
    const subject = await this.#subject(sessionId, athleteId);
    if (derived === undefined || subject === undefined) return undefined;
    const { holds, gaps } = derived;
    return this.#runner.run(
      { type: 'file', format, subject: this.#derivations.reviewSubjectOf(subject), holds, gaps, planRuns },
      {
        packets: () => packetsOfSession(this.#store, subject.stored),
        batches: batchesOfSession(this.#store, subject.stored),
        ...orderOf(asking),
      },
    );
  }

  /** Call after a correction was added: the next reading has it. What was derived of the signals is kept. */
  corrected(sessionId: string, athleteId: string): void {
    const key = keyOf(sessionId, athleteId);
    this.#derivations.changed(key);
    const derived = this.#derivations.keptOf(key);
    if (derived !== undefined) this.#corrected.delete(derived);
  }

  /** Forget what was derived of a session: it has changed or is gone. */
  forget(sessionId: string): void {
    this.#derivations.forget(sessionId);
  }

  /** A recording is likely to be opened soon. */
  warm(): void {
    this.#runner.warm();
  }

  async close(): Promise<void> {
    await this.#runner.close();
    if (this.#background !== this.#runner) await this.#background.close();
  }

  #correctedOf(key: string): CorrectedRecording | undefined {
    const derived = this.#derivations.keptOf(key);
    return derived === undefined ? undefined : this.#corrected.get(derived);
  }

  async #subject(sessionId: string, athleteId: string): Promise<Subject | undefined> {
    const stored = athleteIn(await this.#store.readSession(sessionId), athleteId);
    return stored === undefined ? undefined : { stored, athleteId };
  }

  async #correct(
    { stored, athleteId }: Subject,
    derived: Derived,
    asking: Asking,
  ): Promise<CorrectedRecording> {
    const { cleaned, gaps, discardedCount } = derived;
    const correctionSteps = stepsOf(stored, athleteId);
    const { marks } = marksOf(stored, athleteId);
    const common = {
      cleaned,
      gaps,
      discardedCount,
      estimatedHolds: derived.holds,
      marks,
      correctionSteps,
    };
    if (correctionsInForce(correctionSteps).length === 0)
      return { ...common, holds: derived.holds, stepsWithoutHold: [] };
    const contractionsAtMs = marks.flatMap(({ mark }) => (mark.kind === 'contraction' ? mark.atMs : []));
    const { holds, withoutHold } = applyCorrections(
      derived.holds.map(({ hold }) => hold),
      correctionSteps,
      contractionsAtMs,
    );
    const { samples, plethSeconds } = derived;
    const measured = await this.#runner.run(
      { type: 'measure', holds, samples, plethSeconds, unwatched: stored.session.unwatched },
      orderOf(asking),
    );
    return { ...common, holds: measured, stepsWithoutHold: withoutHold };
  }
}

const orderOf = ({ urgency, signal }: Asking) => ({ urgency, ...(signal !== undefined && { signal }) });
