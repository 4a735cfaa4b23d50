// Marks made on this page: kept until the hub confirms them, sent again after an outage, undone while they are ours.

import { type Signal, signal } from '@preact/signals';
import type { AddMarkMessage } from '../../shared/messages/add-mark.ts';
import type { MarkKind } from '../../shared/schema-parts.ts';
import type { MonotonicMs } from '../../shared/units.ts';
import type { MarkView } from '../../shared/views.ts';

/** A mark not confirmed within this time is said to be unconfirmed. Loopback and LAN answer in milliseconds. */
export const confirmWithinMs = 2_500;

export interface PendingMark {
  readonly requestId: string;
  readonly athleteId: string;
  readonly kind: MarkKind;
  readonly atMs: MonotonicMs;
  readonly text: string | null;
  /** `waiting`: no hub to send to; `sent`; `unconfirmed`: sent, and the hub has not answered in time. */
  readonly state: 'waiting' | 'sent' | 'unconfirmed';
  readonly sentAtPageMs: number;
}

/** What a hub that is back has of the marks made here. */
export interface Reconciled {
  /** Requests whose marks it has. */
  readonly there: ReadonlySet<string>;
  /** Requests whose marks it never said were saved, and lacks: they are sent again. */
  readonly sentAgain: readonly string[];
  /** Marks that it had confirmed and no longer has. */
  readonly withdrawn: readonly MarkView[];
}

/** A mark that the hub has made for a request of ours. */
interface OwnMark {
  readonly requestId: string;
  /** The hub has said that it is on the disk. */
  readonly saved: boolean;
}

export class MarkOutbox {
  readonly pending: Signal<readonly PendingMark[]> = signal([]);
  /** Confirmed marks made on this page that can be taken back, oldest first. */
  readonly own: Signal<readonly MarkView[]> = signal([]);
  readonly #send: (message: AddMarkMessage) => boolean;
  readonly #newRequestId: () => string;
  /** By mark. */
  readonly #made = new Map<string, OwnMark>();

  constructor(send: (message: AddMarkMessage) => boolean, newRequestId: () => string) {
    this.#send = send;
    this.#newRequestId = newRequestId;
  }

  /** Marks at the session time the person pressed, however late the hub hears of it. */
  add(athleteId: string, kind: MarkKind, atMs: MonotonicMs, text: string | null, pageNowMs: number): void {
    const requestId = this.#newRequestId();
    const sent = this.#send({ type: 'addMark', requestId, athleteId, kind, atMs, text });
    this.pending.value = [
      ...this.pending.value,
      { requestId, athleteId, kind, atMs, text, state: sent ? 'sent' : 'waiting', sentAtPageMs: pageNowMs },
    ];
  }

  /** The hub made this mark for that request: if it is one of ours, it is confirmed. */
  confirm(mark: MarkView, requestId: string | null): void {
    if (!this.pending.value.some((entry) => entry.requestId === requestId)) return;
    if (requestId === null) return;
    this.pending.value = this.pending.value.filter((entry) => entry.requestId !== requestId);
    this.own.value = [...this.own.value, mark].slice(-20);
    this.#made.set(mark.markId, { requestId, saved: false });
    for (const markId of this.#made.keys())
      if (!this.own.value.some((each) => each.markId === markId)) this.#made.delete(markId);
  }

  /** The hub says that what was asked is on the disk. */
  saved(requestId: string): void {
    for (const [markId, made] of this.#made)
      if (made.requestId === requestId) this.#made.set(markId, { requestId, saved: true });
  }

  /** A mark was taken back, here or elsewhere. */
  removed(markId: string): void {
    this.own.value = this.own.value.filter((mark) => mark.markId !== markId);
  }

  /** The hub refused a request; the refusal is shown elsewhere. */
  refused(requestId: string): void {
    this.pending.value = this.pending.value.filter((entry) => entry.requestId !== requestId);
  }

  /**
   * The hub is back with the same session and these marks: what it has is confirmed, what it lacks is sent again, unless it
   * had said that it was saved. The mark of a request whose answer was lost is known by what it says: welcomes carry no
   * requests.
   */
  reconcile(marksOfHub: readonly MarkView[], pageNowMs: number): Reconciled {
    const reconciled = this.#takeBack(marksOfHub, pageNowMs);
    const own = new Set(this.own.value.map((mark) => mark.markId));
    for (const mark of marksOfHub) {
      const asked = this.pending.value.find((entry) => !own.has(mark.markId) && saysTheSame(entry, mark));
      if (asked !== undefined) this.confirm(mark, asked.requestId);
    }
    this.pending.value = this.pending.value.map((entry) => {
      const { requestId, athleteId, kind, atMs, text } = entry;
      const sent = this.#send({ type: 'addMark', requestId, athleteId, kind, atMs, text });
      return { ...entry, state: sent ? 'sent' : 'waiting', sentAtPageMs: pageNowMs };
    });
    return reconciled;
  }

  /** Marks of ours that the hub made and lacks now. */
  #takeBack(marksOfHub: readonly MarkView[], pageNowMs: number): Reconciled {
    const inHub = new Set(marksOfHub.map(({ markId }) => markId));
    const there = new Set<string>();
    const sentAgain: string[] = [];
    const withdrawn: MarkView[] = [];
    for (const mark of this.own.value) {
      const made = this.#made.get(mark.markId);
      if (inHub.has(mark.markId)) {
        if (made !== undefined) there.add(made.requestId);
      } else if (made === undefined || made.saved) withdrawn.push(mark);
      else {
        const { athleteId, kind, atMs, text } = mark;
        const { requestId } = made;
        sentAgain.push(requestId);
        const entry = {
          requestId,
          athleteId,
          kind,
          atMs,
          text,
          state: 'waiting',
          sentAtPageMs: pageNowMs,
        } as const;
        this.pending.value = [...this.pending.value, entry];
      }
    }
    this.own.value = this.own.value.filter(({ markId }) => inHub.has(markId));
    return { there, sentAgain, withdrawn };
  }

  /** Another session: nothing of the former one can be sent or undone. Returns the marks that were lost by it. */
  reset(): readonly PendingMark[] {
    const lost = this.pending.value;
    this.pending.value = [];
    this.own.value = [];
    this.#made.clear();
    return lost;
  }

  /** Lets time pass. */
  tick(pageNowMs: number): void {
    const overdue = (entry: PendingMark) =>
      entry.state === 'sent' && pageNowMs - entry.sentAtPageMs >= confirmWithinMs;
    if (!this.pending.value.some(overdue)) return;
    this.pending.value = this.pending.value.map((entry) =>
      overdue(entry) ? { ...entry, state: 'unconfirmed' } : entry,
    );
  }
}

const saysTheSame = (entry: PendingMark, mark: MarkView): boolean =>
  entry.athleteId === mark.athleteId &&
  entry.kind === mark.kind &&
  Math.abs(entry.atMs - mark.atMs) < 1 &&
  entry.text === mark.text;
