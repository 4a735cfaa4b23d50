// Recordings being worked out, and those that have been: one piece of work for everyone who asks meanwhile, dropped when
// nobody waits for it any more, and kept up to a bound once it is done.

import { said } from '../../shared/said.ts';
import type { SensorProfile } from '../../src/profiles/sensor-profile.ts';
import { createSampleColumns } from '../../src/sessions/sample-columns.ts';
import type { RecordingsLater } from '../base/ports/hub-store.ts';
import type { StoredSession } from '../base/ports/stored-session.ts';
import type { Columns, Derived } from './corrected-recording.ts';
import { ReviewFault, type ReviewOrder, type ReviewRunner } from './review/review-runner.ts';
import type { ChannelBuffers, ReviewNews, ReviewSubject, WorkedOut } from './review/review-task.ts';
import { batchesOfSession, columnsOfSession, packetsOfSession } from './review/session-events.ts';

/** What kept derivations may take together, beside the newest; an hour with a 100 Hz wave takes about 10 MB. */
const keptBytes = 160 * 2 ** 20;

/** Who asks: work nobody waits for any more is dropped. */
export type Asking = Pick<ReviewOrder, 'urgency' | 'signal'>;

/** One athlete's part of a stored session. */
export interface Subject {
  readonly stored: StoredSession;
  readonly athleteId: string;
}

/** A derivation under way, for everyone who asks for it meanwhile. */
interface Work {
  readonly key: string;
  readonly derived: Promise<Derived>;
  /** What standard sensors sent, waves left out. */
  readonly preview: Promise<Columns>;
  readonly abort: AbortController;
  readonly progress: { share: number };
  readonly begunWhile: StoredSession['session']['status'];
  waiterCount: number;
}

export const keyOf = (sessionId: string, athleteId: string): string => `${sessionId} ${athleteId}`;

export class Derivations {
  readonly #store: RecordingsLater;
  readonly #runner: ReviewRunner;
  readonly #profiles: () => readonly SensorProfile[];
  readonly #kept = new Map<string, Derived>();
  /** Of sessions still being recorded, which grow: good for their traces until somebody opens them anew. */
  readonly #growing = new Map<string, Derived>();
  readonly #working = new Map<string, Work>();
  /** Raised when something about a session changes, so that what was begun before is not kept. */
  readonly #changes = new Map<string, number>();

  /** `profiles` are today's, for sessions recorded before profiles were kept with them. */
  constructor(store: RecordingsLater, runner: ReviewRunner, profiles: () => readonly SensorProfile[]) {
    this.#store = store;
    this.#runner = runner;
    this.#profiles = profiles;
  }

  reviewSubjectOf({ stored, athleteId }: Subject): ReviewSubject {
    return { stored, athleteId, profiles: stored.profiles ?? this.#profiles() };
  }

  /** How often something about it has changed. */
  changeOf(key: string): number {
    return this.#changes.get(key) ?? 0;
  }

  changed(key: string): void {
    this.#changes.set(key, this.changeOf(key) + 1);
  }

  /** What is kept of it; asking moves it to the newest. */
  keptOf(key: string): Derived | undefined {
    const known = this.#kept.get(key);
    if (known !== undefined) this.#keep(key, known);
    return known;
  }

  derivedOf(subject: Subject, asking: Asking): Promise<Derived> {
    const known = this.keptOf(keyOfSubject(subject));
    if (known !== undefined) return Promise.resolve(known);
    const work = this.#workOn(subject, asking);
    return this.#waitFor(work, work.derived, asking);
  }

  /** Samples by channel as far as they are known: all of it, or what standard sensors sent while it is worked out. */
  async columnsOf(
    subject: Subject,
    asking: Asking,
  ): Promise<{ readonly sent: Columns; readonly cleaned: Columns | undefined }> {
    const key = keyOfSubject(subject);
    const isGrowing = subject.stored.session.status === 'recording';
    if (!isGrowing) this.#growing.delete(key);
    const known = isGrowing ? this.#growing.get(key) : this.#kept.get(key);
    if (known !== undefined) return known;
    const work = this.#workOn(subject, asking);
    return { sent: await this.#waitFor(work, work.preview, asking), cleaned: undefined };
  }

  /** How much of it is worked out, 0 to 1; null while nobody asks for it. */
  progressOf(key: string): number | null {
    return this.#working.get(key)?.progress.share ?? null;
  }

  /** Forgets everything of a session, work under way too. */
  forget(sessionId: string): void {
    const keys = [...this.#kept.keys(), ...this.#growing.keys(), ...this.#working.keys()];
    const own = [...new Set(keys)].filter((key) => key.startsWith(`${sessionId} `));
    for (const key of own) {
      this.changed(key);
      this.#kept.delete(key);
      this.#growing.delete(key);
      // Nothing of what is to be forgotten stays in the thread either.
      this.#working.get(key)?.abort.abort(new ReviewFault(said('refusal.recordingDeleted')));
      this.#working.delete(key);
    }
  }

  #keep(key: string, derived: Derived): void {
    this.#kept.delete(key);
    this.#kept.set(key, derived);
    let bytes = [...this.#kept.values()].reduce((sum, each) => sum + bytesOf(each), 0);
    for (const [oldest, each] of this.#kept) {
      if (bytes <= keptBytes || oldest === key) return;
      bytes -= bytesOf(each);
      this.#kept.delete(oldest);
    }
  }

  /** The work for a recording: the one under way, or one begun now. */
  #workOn(subject: Subject, asking: Asking): Work {
    const underWay = this.#working.get(keyOfSubject(subject));
    // What was begun of a growing session lacks what came after.
    const isWhole = underWay?.begunWhile === subject.stored.session.status;
    return underWay !== undefined && isWhole ? underWay : this.#start(subject, asking);
  }

  #start(subject: Subject, asking: Asking): Work {
    const { stored } = subject;
    const key = keyOfSubject(subject);
    const abort = new AbortController();
    const progress = { share: 0 };
    const preview = resolvers<Columns>();
    // Whoever waits for it hears of a failure; nobody has to wait.
    preview.promise.catch(() => undefined);
    const before = this.changeOf(key);
    const derived = this.#runner
      .run(
        { type: 'derive', subject: this.reviewSubjectOf(subject) },
        {
          packets: () => packetsOfSession(this.#store, stored),
          batches: batchesOfSession(this.#store, stored),
          columns: () => columnsOfSession(this.#store, stored),
          signal: abort.signal,
          urgency: asking.urgency,
          onNews(news: ReviewNews) {
            if (news.type === 'progress') progress.share = news.share;
            else preview.resolve(columnsOfBuffers(news.sent));
          },
        },
      )
      .then((result) => {
        const whole = derivedFrom(result);
        preview.resolve(whole.sent);
        if (stored.session.status === 'recording') this.#growing.set(key, whole);
        else if (this.changeOf(key) === before) this.#keep(key, whole);
        return whole;
      })
      .finally(() => {
        if (this.#working.get(key) === work) this.#working.delete(key);
      });
    derived.catch((error: unknown) => preview.reject(error));
    const begunWhile = stored.session.status;
    const work: Work = {
      key,
      derived,
      preview: preview.promise,
      abort,
      progress,
      begunWhile,
      waiterCount: 0,
    };
    this.#working.set(key, work);
    return work;
  }

  /** Waits for a part of the work; when the last one who waits leaves, the work is dropped. */
  #waitFor<Part>(work: Work, part: Promise<Part>, { signal }: Asking): Promise<Part> {
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
        if (work.waiterCount === 0) this.#drop(work, signal?.reason);
        reject(signal?.reason);
      };
      if (signal?.aborted === true) {
        left();
        return;
      }
      signal?.addEventListener('abort', left, { once: true });
      part.finally(leave).then(resolve, reject);
    });
  }

  #drop(work: Work, reason: unknown): void {
    if (this.#working.get(work.key) === work) this.#working.delete(work.key);
    work.abort.abort(reason);
  }
}

const keyOfSubject = ({ stored, athleteId }: Subject): string => keyOf(stored.session.sessionId, athleteId);

function derivedFrom({ cleaned, sent, ...rest }: WorkedOut): Derived {
  return { ...rest, cleaned: columnsOfBuffers(cleaned), sent: columnsOfBuffers(sent) };
}

function columnsOfBuffers(buffers: ChannelBuffers): Columns {
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
