// Recordings as a reviewing page is sent them. What has to be worked out is worked out elsewhere (review/) and kept for
// a while, since a page asks for one recording many times while it zooms.

import type { AthleteRecording, CorrectionView, MeasureView, RecordingBody } from '../../shared/http.ts';
import type { Channel } from '../../shared/schema-parts.ts';
import { wallMs } from '../../shared/units.ts';
import type { HoldView } from '../../shared/views.ts';
import type { Hold } from '../../src/holds/hold.ts';
import { measureTable } from '../../src/holds/measure-table.ts';
import type { HoldMeasures } from '../../src/holds/measures.ts';
import type { SensorProfile } from '../../src/profiles/sensor-profile.ts';
import { applyCorrections } from '../../src/sessions/apply-corrections.ts';
import { type CorrectedMarks, correctMarks } from '../../src/sessions/correct-marks.ts';
import { type CorrectionStep, correctionsInForce, lastUndone } from '../../src/sessions/correction-steps.ts';
import type { DerivedGap, MeasuredHold } from '../../src/sessions/derive-recording.ts';
import { feelingOfHold } from '../../src/sessions/feeling-of-hold.ts';
import type { PackedSamples } from '../../src/sessions/packed-samples.ts';
import { createSampleColumns, type SampleColumns } from '../../src/sessions/sample-columns.ts';
import type { PlethSecond } from '../../src/signal/pleth-breathing.ts';
import type { Store, StoredSession } from '../base/ports.ts';
import { toHoldView } from '../live/to-view.ts';
import { ReviewFault, type ReviewOrder, type ReviewRunner } from './review/review-runner.ts';
import type { ChannelBuffers, FileFormat, ReviewSubject, WorkedOut } from './review/review-task.ts';
import { columnsOfSession, packetsOfSession } from './review/session-events.ts';

/** What kept derivations may take together, beside the newest; an hour with a 100 Hz wave takes about 10 MB. */
const keptBytes = 160 * 2 ** 20;

type Columns = ReadonlyMap<Channel, SampleColumns>;

interface Derived {
  /** With the quality the pipeline gave. */
  readonly cleaned: Columns;
  readonly sent: Columns;
  readonly samples: PackedSamples;
  readonly plethSeconds: ReadonlyMap<number, PlethSecond>;
  readonly gaps: readonly DerivedGap[];
  readonly discardedCount: number;
  /** As estimated, without corrections. */
  readonly holds: readonly MeasuredHold[];
}

/** One athlete's recording with its holds as corrected by hand; the estimate stands beside. */
export interface CorrectedRecording {
  readonly cleaned: Columns;
  readonly gaps: readonly DerivedGap[];
  readonly discardedCount: number;
  readonly holds: readonly MeasuredHold[];
  readonly estimatedHolds: readonly MeasuredHold[];
  /** As corrected. */
  readonly marks: CorrectedMarks['marks'];
  /** Of this athlete, undone ones too, in the order they were made. */
  readonly correctionSteps: readonly CorrectionStep[];
  /** In force, but the hold they correct is not found any more. */
  readonly stepsWithoutHold: readonly CorrectionStep[];
}

/** Who asks: work nobody waits for any more is dropped. */
export type Asking = Pick<ReviewOrder, 'urgency' | 'signal'>;

export interface RecordedSessions {
  /** At once, with holds as they were said live where they have not been worked out yet. `include` picks athletes. */
  outline(sessionId: string, include?: (athleteId: string) => boolean): RecordingBody | undefined;
  /** With everything worked out. `include` picks athletes; all of them, when left out. */
  read(
    sessionId: string,
    asking: Asking,
    include?: (athleteId: string) => boolean,
  ): Promise<RecordingBody | undefined>;
  readAthlete(sessionId: string, athleteId: string, asking: Asking): Promise<AthleteRecording | undefined>;
  derive(sessionId: string, athleteId: string, asking: Asking): Promise<CorrectedRecording | undefined>;
  /** How much of it is worked out, 0 to 1; null while nobody asks for it. */
  progress(sessionId: string, athleteId: string): number | null;
  /**
   * Every sample by channel: `raw` as the sensors sent it, `cleaned` with the quality the pipeline gave. While that is
   * being worked out, the raw ones stand in, without waves and with `cleaned` false.
   */
  traces(
    sessionId: string,
    athleteId: string,
    signals: 'raw' | 'cleaned',
    asking: Asking,
  ): Promise<{ readonly columns: Columns; readonly cleaned: boolean } | undefined>;
  /** The recording as a file for other programs. */
  file(
    sessionId: string,
    athleteId: string,
    format: FileFormat,
    asking: Asking,
  ): Promise<Uint8Array | undefined>;
  /** Call after a correction was added: the next reading has it. What was derived of the signals is kept. */
  corrected(sessionId: string, athleteId: string): void;
  /** Forget what was derived of a session: it has changed or is gone. */
  forget(sessionId: string): void;
  /** A recording is likely to be opened soon. */
  warm(): void;
  close(): Promise<void>;
}

/** A derivation under way, for everyone who asks for it meanwhile. */
interface Work {
  readonly derived: Promise<Derived>;
  /** What standard sensors sent, waves left out. */
  readonly glance: Promise<Columns>;
  readonly abort: AbortController;
  readonly progress: { share: number };
  readonly begunWhile: StoredSession['session']['status'];
  waiterCount: number;
}

/** `profiles` are today's, for sessions recorded before profiles were kept with them. */
export function createRecordedSessions(
  store: Store,
  runner: ReviewRunner,
  profiles: readonly SensorProfile[] = [],
): RecordedSessions {
  const kept = new Map<string, Derived>();
  const keptCorrected = new Map<string, CorrectedRecording>();
  /** Of sessions still being recorded, which grow: good for their traces until somebody opens them anew. */
  const growing = new Map<string, Derived>();
  const working = new Map<string, Work>();
  /** Raised when something about a session changes, so that what was begun before is not kept. */
  const changes = new Map<string, number>();
  const changeOf = (key: string): number => changes.get(key) ?? 0;
  const keyOf = (sessionId: string, athleteId: string): string => `${sessionId} ${athleteId}`;

  function keep(key: string, derived: Derived): void {
    kept.delete(key);
    kept.set(key, derived);
    let bytes = [...kept.values()].reduce((sum, each) => sum + bytesOf(each), 0);
    for (const [oldest, each] of kept) {
      if (bytes <= keptBytes || oldest === key) return;
      bytes -= bytesOf(each);
      kept.delete(oldest);
      keptCorrected.delete(oldest);
    }
  }

  function subjectOf(stored: StoredSession, athleteId: string): ReviewSubject {
    return { stored, athleteId, profiles: stored.profiles ?? profiles };
  }

  function startWork(key: string, stored: StoredSession, athleteId: string, asking: Asking): Work {
    const abort = new AbortController();
    const progress = { share: 0 };
    const glance = resolvers<Columns>();
    // Whoever waits for it hears of a failure; nobody has to wait.
    glance.promise.catch(() => undefined);
    const before = changeOf(key);
    const derived = runner
      .run(
        { type: 'derive', subject: subjectOf(stored, athleteId) },
        {
          packets: () => packetsOfSession(store, stored),
          columns: () => columnsOfSession(store, stored),
          signal: abort.signal,
          urgency: asking.urgency,
          onNews(news) {
            if (news.type === 'progress') progress.share = news.share;
            else glance.resolve(columnsOf(news.sent));
          },
        },
      )
      .then((result: WorkedOut): Derived => {
        const { cleaned, sent, samples, plethSeconds, gaps, discardedCount, holds } = result;
        const whole = {
          cleaned: columnsOf(cleaned),
          sent: columnsOf(sent),
          samples,
          plethSeconds,
          gaps,
          discardedCount,
          holds,
        };
        glance.resolve(whole.sent);
        if (stored.session.status === 'recording') growing.set(key, whole);
        else if (changeOf(key) === before) keep(key, whole);
        return whole;
      })
      .finally(() => {
        if (working.get(key) === work) working.delete(key);
      });
    derived.catch((error: unknown) => glance.reject(error));
    const work: Work = {
      derived,
      glance: glance.promise,
      abort,
      progress,
      begunWhile: stored.session.status,
      waiterCount: 0,
    };
    working.set(key, work);
    return work;
  }

  /** The work for a recording: the one under way, or one begun now. */
  function workOn(key: string, stored: StoredSession, athleteId: string, asking: Asking): Work {
    const underWay = working.get(key);
    // What was begun of a growing session lacks what came after.
    const isWhole = underWay !== undefined && underWay.begunWhile === stored.session.status;
    return isWhole ? underWay : startWork(key, stored, athleteId, asking);
  }

  /** Waits for a part of the work; when the last one who waits leaves, the work is dropped. */
  function waitFor<Part>(work: Work, part: Promise<Part>, { signal }: Asking): Promise<Part> {
    work.waiterCount += 1;
    return new Promise<Part>((resolve, reject) => {
      let waits = true;
      const leave = (): void => {
        if (!waits) return;
        waits = false;
        signal?.removeEventListener('abort', left);
        work.waiterCount -= 1;
      };
      const left = (): void => {
        leave();
        if (work.waiterCount === 0) {
          for (const [key, each] of working) if (each === work) working.delete(key);
          work.abort.abort(signal?.reason);
        }
        reject(signal?.reason);
      };
      if (signal?.aborted === true) {
        left();
        return;
      }
      signal?.addEventListener('abort', left, { once: true });
      part.then(
        (value) => {
          leave();
          resolve(value);
        },
        (error: unknown) => {
          leave();
          reject(error);
        },
      );
    });
  }

  function derivedOf(
    key: string,
    stored: StoredSession,
    athleteId: string,
    asking: Asking,
  ): Promise<Derived> {
    const known = kept.get(key);
    if (known !== undefined) {
      keep(key, known);
      return Promise.resolve(known);
    }
    const work = workOn(key, stored, athleteId, asking);
    return waitFor(work, work.derived, asking);
  }

  async function derive(
    sessionId: string,
    athleteId: string,
    asking: Asking,
  ): Promise<CorrectedRecording | undefined> {
    const stored = athleteIn(store.readSession(sessionId), athleteId);
    if (stored === undefined) return undefined;
    const key = keyOf(sessionId, athleteId);
    const known = keptCorrected.get(key);
    if (known !== undefined && kept.has(key)) {
      keep(key, kept.get(key)!);
      return known;
    }
    const before = changeOf(key);
    const derived = await derivedOf(key, stored, athleteId, asking);
    const corrected = await correct(stored, athleteId, derived, asking);
    if (changeOf(key) === before && kept.get(key) === derived) keptCorrected.set(key, corrected);
    return corrected;
  }

  async function correct(
    stored: StoredSession,
    athleteId: string,
    derived: Derived,
    asking: Asking,
  ): Promise<CorrectedRecording> {
    const { cleaned, gaps, discardedCount } = derived;
    const steps = stepsOf(stored, athleteId);
    const { marks } = marksOf(stored, athleteId);
    const common = {
      cleaned,
      gaps,
      discardedCount,
      estimatedHolds: derived.holds,
      marks,
      correctionSteps: steps,
    };
    if (correctionsInForce(steps).length === 0)
      return { ...common, holds: derived.holds, stepsWithoutHold: [] };
    const contractionsAtMs = marks.flatMap(({ mark }) => (mark.kind === 'contraction' ? mark.atMs : []));
    const { holds, withoutHold } = applyCorrections(
      derived.holds.map(({ hold }) => hold),
      steps,
      contractionsAtMs,
    );
    const measured = await runner.run(
      { type: 'measure', holds, samples: derived.samples, plethSeconds: derived.plethSeconds },
      { urgency: asking.urgency, ...(asking.signal !== undefined && { signal: asking.signal }) },
    );
    return { ...common, holds: measured, stepsWithoutHold: withoutHold };
  }

  async function readAthlete(
    sessionId: string,
    athleteId: string,
    asking: Asking,
  ): Promise<AthleteRecording | undefined> {
    const derived = await derive(sessionId, athleteId, asking);
    // Read anew: it may have changed, or be gone, while it was worked out.
    const stored = athleteIn(store.readSession(sessionId), athleteId);
    return derived === undefined || stored === undefined
      ? undefined
      : athleteRecordingOf(stored, athleteId, derived);
  }

  function bodyOf(stored: StoredSession, athletes: AthleteRecording[]): RecordingBody {
    return {
      session: stored.session,
      damage: [...stored.damage],
      durationMs: stored.durationMs,
      athletes,
      sensors: stored.sensors.map((sensor) => ({
        ...sensor,
        lastPacketWallAtMs: null,
        packetCount: 0,
        discardedCount: 0,
      })),
    };
  }

  return {
    derive,
    readAthlete,
    outline(sessionId, include = () => true) {
      const stored = store.readSession(sessionId);
      if (stored === undefined) return undefined;
      const athletes = stored.athletes
        .filter(({ athleteId }) => include(athleteId))
        .map(({ athleteId }) =>
          athleteRecordingOf(stored, athleteId, keptCorrected.get(keyOf(sessionId, athleteId))),
        );
      return bodyOf(stored, athletes);
    },
    async read(sessionId, asking, include = () => true) {
      const athleteIds = store.readSession(sessionId)?.athletes.map(({ athleteId }) => athleteId) ?? [];
      const athletes: AthleteRecording[] = [];
      for (const athleteId of athleteIds.filter(include)) {
        const athlete = await readAthlete(sessionId, athleteId, asking);
        if (athlete !== undefined) athletes.push(athlete);
      }
      const stored = store.readSession(sessionId);
      return stored === undefined ? undefined : bodyOf(stored, athletes);
    },
    progress: (sessionId, athleteId) => working.get(keyOf(sessionId, athleteId))?.progress.share ?? null,
    async traces(sessionId, athleteId, signals, asking) {
      const stored = athleteIn(store.readSession(sessionId), athleteId);
      if (stored === undefined) return undefined;
      const key = keyOf(sessionId, athleteId);
      const isGrowing = stored.session.status === 'recording';
      if (!isGrowing) growing.delete(key);
      const known = isGrowing ? growing.get(key) : kept.get(key);
      if (known !== undefined)
        return signals === 'raw'
          ? { columns: known.sent, cleaned: false }
          : { columns: known.cleaned, cleaned: true };
      const work = workOn(key, stored, athleteId, asking);
      return { columns: await waitFor(work, work.glance, asking), cleaned: false };
    },
    async file(sessionId, athleteId, format, asking) {
      const derived = await derive(sessionId, athleteId, asking);
      const stored = athleteIn(store.readSession(sessionId), athleteId);
      if (derived === undefined || stored === undefined) return undefined;
      const { holds, gaps } = derived;
      return runner.run(
        { type: 'file', format, subject: subjectOf(stored, athleteId), holds, gaps },
        {
          packets: () => packetsOfSession(store, stored),
          urgency: asking.urgency,
          ...(asking.signal !== undefined && { signal: asking.signal }),
        },
      );
    },
    corrected(sessionId, athleteId) {
      const key = keyOf(sessionId, athleteId);
      changes.set(key, changeOf(key) + 1);
      keptCorrected.delete(key);
    },
    forget(sessionId) {
      const own = (key: string): boolean => key.startsWith(`${sessionId} `);
      for (const key of new Set([...kept.keys(), ...growing.keys(), ...working.keys()])) {
        if (!own(key)) continue;
        changes.set(key, changeOf(key) + 1);
        kept.delete(key);
        keptCorrected.delete(key);
        growing.delete(key);
        // Nothing of what is to be forgotten stays in the thread either.
        working.get(key)?.abort.abort(new ReviewFault('This recording has been deleted.'));
        working.delete(key);
      }
    },
    warm: () => runner.warm(),
    close: () => runner.close(),
  };
}

/** The session, where this athlete is in it. */
const athleteIn = (stored: StoredSession | undefined, athleteId: string): StoredSession | undefined =>
  stored?.athletes.some((athlete) => athlete.athleteId === athleteId) === true ? stored : undefined;

const stepsOf = (stored: StoredSession, athleteId: string): CorrectionStep[] =>
  stored.corrections.filter((correction) => correction.athleteId === athleteId).map(({ step }) => step);

/** The athlete's marks as corrected. */
const marksOf = (stored: StoredSession, athleteId: string): CorrectedMarks =>
  correctMarks(
    stored.marks
      .filter(({ mark, removed }) => mark.athleteId === athleteId && !removed)
      .map(({ mark }) => mark),
    stepsOf(stored, athleteId),
  );

function columnsOf(buffers: ChannelBuffers): Columns {
  return new Map([...buffers].map(([channel, own]) => [channel, createSampleColumns(own)]));
}

/** Time, value and quality of a sample take 13 bytes; of a packed one 18; a second of pleth in a map about 100. */
const bytesOf = ({ cleaned, sent, samples, plethSeconds }: Derived): number =>
  [...cleaned.values(), ...sent.values()].reduce((sum, { length }) => sum + 13 * length, 0) +
  18 * samples.atMs.length +
  100 * plethSeconds.size;

/** Promise.withResolvers, which Node 20 lacks. */
function resolvers<Value>() {
  let resolve!: (value: Value) => void;
  let reject!: (error: unknown) => void;
  const promise = new Promise<Value>((yes, no) => {
    resolve = yes;
    reject = no;
  });
  return { promise, resolve, reject };
}

/** Without `derived`, holds are as they were said live, and nothing is measured. */
function athleteRecordingOf(
  stored: StoredSession,
  athleteId: string,
  derived: CorrectedRecording | undefined,
): AthleteRecording {
  const athlete = stored.athletes.find((candidate) => candidate.athleteId === athleteId)!;
  const liveHolds = stored.holds
    .filter((entry) => entry.athleteId === athleteId && !entry.withdrawn)
    .map((entry) => entry.hold);
  const withFeeling = (hold: HoldView): HoldView => {
    const endMs = hold.end?.atMs ?? stored.durationMs;
    const feeling = feelingOfHold({ startMs: hold.start.atMs, endMs }, liveHolds);
    return feeling === undefined ? hold : { ...hold, feeling };
  };
  const corrected = marksOf(stored, athleteId);
  return {
    athlete,
    workedOut: derived !== undefined,
    holds:
      derived?.holds.map(({ hold, measures, lowestSpo2 }) => ({
        hold: withFeeling(toHoldView(hold, lowestSpo2)),
        measures: toMeasureViews(measures, hold),
      })) ?? liveHolds.map((hold) => ({ hold, measures: [] })),
    estimatedHolds: derived?.estimatedHolds.map(({ hold, lowestSpo2 }) => toHoldView(hold, lowestSpo2)) ?? [],
    corrections: derived === undefined ? [] : correctionViews(derived),
    liveHolds,
    marks: corrected.marks.map(({ mark, how, originallyAtMs }) => ({
      ...mark,
      athleteId,
      how,
      originallyAtMs,
    })),
    removedMarks: [
      ...stored.marks
        .filter((entry) => entry.removed && entry.mark.athleteId === athleteId)
        .map((entry) => entry.mark),
      ...corrected.removed.map((mark) => ({ ...mark, athleteId })),
    ],
    canRedo: lastUndone(stepsOf(stored, athleteId)) !== undefined,
    alarms: stored.alarms
      .filter((entry) => entry.athleteId === athleteId)
      .map(({ alarm, clearedAtMs }) => ({ alarm, clearedAtMs })),
    gaps:
      derived?.gaps.map(({ sensorId, channel, fromMs, toMs }) => ({
        sensorId,
        fromMs,
        toMs,
        reason: `no ${channelWords[channel]}`,
      })) ?? [],
    discardedCount: derived?.discardedCount ?? 0,
  };
}

function correctionViews({ correctionSteps, stepsWithoutHold }: CorrectedRecording): CorrectionView[] {
  const inForce = new Set(correctionsInForce(correctionSteps));
  const lost = new Set(stepsWithoutHold);
  return correctionSteps.flatMap((step): CorrectionView[] => {
    const { correctionId, madeWallAtMs, correction } = step;
    if (correction.type === 'undo') return [];
    const state = lost.has(step) ? 'holdNotFound' : inForce.has(step) ? 'inForce' : 'undone';
    return [{ correctionId, madeWallAtMs: wallMs(madeWallAtMs), correction, state }];
  });
}

const channelWords = {
  heartRateBpm: 'heart rate',
  rrIntervalMs: 'beat intervals',
  spo2Percent: 'saturation',
  pulseRateBpm: 'pulse rate',
  perfusionIndexPercent: 'perfusion index',
  pleth: 'pleth waveform',
  respirationRaw: 'breathing',
} as const;

function toMeasureViews(measures: HoldMeasures, hold: Hold): MeasureView[] {
  return measureTable.map(({ key, label, unit, definition, source }) => {
    const value = measures[key] ?? null;
    const whyNot =
      hold.end === undefined
        ? 'the hold has no end in this recording'
        : 'the signals and marks of this hold do not tell';
    return { key, label, unit, value, whyNot: value === null ? whyNot : null, definition, source };
  });
}
