// What this page changed that the hub holds in its memory only, until the hub says it is on the disk; and what is gone: not
// saved when the hub was started anew, or confirmed and no longer there.

import { type Signal, signal } from '@preact/signals';
import type { UpMessage } from '../../shared/messages/up.ts';
import type { MarkKind } from '../../shared/schema-parts.ts';
import type { MonotonicMs } from '../../shared/units.ts';

/** What was changed over HTTP, by what it is about. */
export type HttpChange =
  | 'athlete'
  | 'sensor'
  | 'plan'
  | 'planRun'
  | 'training'
  | 'correction'
  | 'recording'
  | 'import'
  | 'other';

export type Change =
  | {
      readonly type: 'mark' | 'markRemoved';
      readonly athleteId: string;
      readonly kind: MarkKind;
      readonly atMs: MonotonicMs;
    }
  | { readonly type: 'feeling' | 'settings'; readonly athleteId: string }
  | { readonly type: 'sessionStart' | 'sessionEnd' }
  | { readonly type: 'http'; readonly what: HttpChange };

/** `unsaved`: it stands, in memory only. `lost`: the hub stopped before. `withdrawn`: it was confirmed, and is not there. */
export type ChangeState = 'unsaved' | 'lost' | 'withdrawn';

export interface UnsavedChange {
  readonly changeId: string;
  readonly change: Change;
  readonly state: ChangeState;
  /** Of the hub's process that holds it; null until it is known. */
  readonly hubRunId: string | null;
  /** The hub of this connection has it, wherever it has it from. */
  readonly isThere: boolean;
}

/** Requests on their way are remembered up to this many; a person makes one at a time. */
const mostAsked = 100;

export class UnsavedChanges {
  readonly list: Signal<readonly UnsavedChange[]> = signal([]);
  readonly #asked = new Map<string, Change>();
  readonly #saved: (changeId: string) => void;
  #hubRunId: string | null = null;
  #httpCount = 0;

  /** `saved` hears of each that is on the disk after all. */
  constructor(saved: (changeId: string) => void = () => undefined) {
    this.#saved = saved;
  }

  get isWaiting(): boolean {
    return this.list.value.some(({ state }) => state === 'unsaved');
  }

  /** A request goes out; `markOf` finds the mark that one takes back. */
  asked(message: UpMessage, markOf: (markId: string) => Change | undefined): void {
    const change = changeOf(message, markOf);
    if (change === undefined || !('requestId' in message)) return;
    this.#asked.set(message.requestId, change);
    for (const oldest of this.#asked.keys()) {
      if (this.#asked.size <= mostAsked) break;
      this.#asked.delete(oldest);
    }
  }

  /** It was answered otherwise. */
  answered(requestId: string): void {
    this.#asked.delete(requestId);
  }

  /** The hub says that it stands but isn't saved. */
  standsUnsaved(requestId: string): void {
    const change = this.#asked.get(requestId);
    this.#asked.delete(requestId);
    if (change !== undefined) this.#add(requestId, change, 'unsaved');
  }

  httpUnsaved(what: HttpChange): void {
    this.#httpCount += 1;
    this.#add(`http-${this.#httpCount}`, { type: 'http', what }, 'unsaved');
  }

  /** It was confirmed, and the hub no longer has it. */
  withdrawn(changeId: string, change: Change): void {
    this.#add(changeId, change, 'withdrawn');
  }

  /** Which process of the hub this connection is to: what changes from now on, that one holds. */
  connectedTo(hubRunId: string): void {
    this.#hubRunId = hubRunId;
  }

  /** Another connection: `thereIds` of what the hub has by its own list. */
  reconnected(thereIds: ReadonlySet<string>): void {
    this.list.value = this.list.value.map((each) => ({ ...each, isThere: thereIds.has(each.changeId) }));
  }

  /** It is sent again as if for the first time. */
  sentAgain(changeId: string): void {
    this.list.value = this.list.value.filter((each) => each.changeId !== changeId);
  }

  /** The hub has said whether all that was changed before is on the disk. */
  checked({ hubRunId, saved }: { readonly hubRunId: string; readonly saved: boolean }): void {
    // Of a hub that was started anew, before its welcome has come: what it has by its own list isn't known yet.
    if (hubRunId !== this.#hubRunId) return;
    const kept: UnsavedChange[] = [];
    for (const each of this.list.value) {
      const isOfThisRun = each.hubRunId === null || each.hubRunId === hubRunId;
      if (each.state !== 'unsaved') kept.push(each);
      else if (!isOfThisRun && !each.isThere) kept.push({ ...each, state: 'lost' });
      else if (!isOfThisRun || saved) this.#saved(each.changeId);
      else kept.push({ ...each, hubRunId });
    }
    if (kept.length > 0 || this.list.value.length > 0) this.list.value = kept;
  }

  /** A person has read of what is gone. */
  dismiss(): void {
    this.list.value = this.list.value.filter(({ state }) => state === 'unsaved');
  }

  #add(changeId: string, change: Change, state: ChangeState): void {
    this.list.value = [
      ...this.list.value.filter((each) => each.changeId !== changeId),
      { changeId, change, state, hubRunId: this.#hubRunId, isThere: true },
    ];
  }
}

function changeOf(message: UpMessage, markOf: (markId: string) => Change | undefined): Change | undefined {
  switch (message.type) {
    case 'addMark': {
      const { athleteId, kind, atMs } = message;
      return atMs === null ? undefined : { type: 'mark', athleteId, kind, atMs };
    }
    case 'removeMark': {
      const mark = markOf(message.markId);
      return mark?.type === 'mark' ? { ...mark, type: 'markRemoved' } : undefined;
    }
    case 'rateHold':
      return { type: 'feeling', athleteId: message.athleteId };
    case 'changeSettings':
      return { type: 'settings', athleteId: message.athleteId };
    case 'startSession':
      return { type: 'sessionStart' };
    case 'endSession':
      return { type: 'sessionEnd' };
    // Answered without waiting for the disk.
    case 'acknowledgeAlarms':
    case 'acknowledgeSupervision':
    case 'pauseAudio':
    case 'takeCues':
    case 'hello':
    case 'pageState':
      return undefined;
  }
}

const httpChanges: readonly (readonly [RegExp, HttpChange])[] = [
  [/^\/api\/athletes\/[^/]+\/training/, 'training'],
  [/^\/api\/athletes/, 'athlete'],
  [/^\/api\/sensors/, 'sensor'],
  [/^\/api\/plans/, 'plan'],
  [/^\/api\/plan-runs/, 'planRun'],
  [/^\/api\/sessions\/[^/]+\/athletes\/[^/]+\/corrections/, 'correction'],
  [/^\/api\/sessions/, 'recording'],
  [/^\/api\/import/, 'import'],
];

/** By the path that was asked. */
export const httpChangeOf = (path: string): HttpChange =>
  httpChanges.find(([pattern]) => pattern.test(path))?.[1] ?? 'other';
