// What of each athlete's newest values and samples pages have not been told yet: each change written once for all pages
// that may see it.

import type { LiveState } from '../../shared/live-frame/live-frame.ts';
import { changeBlock, type WholeState, wholeBlock } from '../../shared/live-frame/write-live-frame.ts';
import { type MonotonicMs, monotonicMs, type ProcessMs } from '../../shared/units.ts';
import type { Readout, Trace } from '../../shared/views.ts';
import type { Sample } from '../../src/samples/sample.ts';
import { TokenBucket } from './token-bucket.ts';
import { createTraceMemory, isRepeat, type TraceMemory } from './trace-memory.ts';

/** What is new of one athlete since the last. */
export interface LiveChange {
  /** The athlete's number in live frames; never another's. */
  readonly slot: number;
  readonly state: LiveState;
  /** The samples cover `fromMs < atMs <= tracedToMs`. */
  readonly fromMs: MonotonicMs;
  readonly tracedToMs: MonotonicMs;
  readonly traces: readonly Trace[];
  /** For a page that was told everything before. */
  readonly block: Uint8Array;
}

/**
 * An athlete's changes go out at once as long as there are not more of them than this; beyond it they wait for the next tick,
 * together. Sensors at their ordinary rates stay below it; a demo at a hundred times real time, or a wave that brings its
 * readings with every packet, does not. Our choice: a page draws ten times a second.
 */
const atOnce = { burst: 10, perSecond: 10 };

interface Feed {
  readonly slot: number;
  readonly memory: TraceMemory;
  readonly allowance: TokenBucket;
  /** As pages were told; undefined before the first time. */
  told: LiveState | undefined;
  tracedToMs: MonotonicMs;
  isChanged: boolean;
}

export class LiveChanges {
  readonly #stateOf: (athleteId: string) => LiveState | undefined;
  readonly #feeds = new Map<string, Feed>();
  #slotCount = 0;

  constructor(stateOf: (athleteId: string) => LiveState | undefined) {
    this.#stateOf = stateOf;
  }

  join(athleteId: string, nowMs: ProcessMs, fromMs = monotonicMs(0)): void {
    const slot = this.#slotCount;
    this.#slotCount += 1;
    this.#feeds.set(athleteId, {
      slot,
      memory: createTraceMemory(),
      allowance: new TokenBucket(atOnce.burst, atOnce.perSecond, nowMs),
      told: undefined,
      tracedToMs: fromMs,
      isChanged: true,
    });
  }

  leave(athleteId: string): void {
    this.#feeds.delete(athleteId);
  }

  clear(): void {
    this.#feeds.clear();
  }

  /** Samples from before any page was told: a page that joins is filled in with them. */
  fill(athleteId: string, samples: readonly Sample[]): void {
    const memory = this.#feeds.get(athleteId)?.memory;
    for (const sample of samples) memory?.add(sample);
    memory?.takeNew();
  }

  /** Answers whether live pages show it. */
  add(athleteId: string, sample: Sample): boolean {
    const feed = this.#feeds.get(athleteId);
    if (feed === undefined || !feed.memory.add(sample)) return false;
    feed.isChanged = true;
    return true;
  }

  touch(athleteId: string): void {
    const feed = this.#feeds.get(athleteId);
    if (feed !== undefined) feed.isChanged = true;
  }

  /** Somebody's changes are still to be taken. */
  get isWaiting(): boolean {
    for (const { isChanged } of this.#feeds.values()) if (isChanged) return true;
    return false;
  }

  /** Samples after `fromMs`, and the time from which they are complete. */
  since(athleteId: string, fromMs: MonotonicMs): ReturnType<TraceMemory['since']> {
    return this.#feeds.get(athleteId)?.memory.since(fromMs) ?? { fromMs, traces: [] };
  }

  /** What is new, of everyone, or only of those whose changes may go out at once. It counts as told. */
  take(nowMs: ProcessMs, whose: 'everyone' | 'atOnce'): LiveChange[] {
    const changes: LiveChange[] = [];
    for (const [athleteId, feed] of this.#feeds) {
      if (!feed.isChanged || (whose === 'atOnce' && !feed.allowance.take(1, nowMs))) continue;
      const state = this.#stateOf(athleteId);
      if (state === undefined) continue;
      feed.isChanged = false;
      const change = takeChange(feed, state);
      if (change !== undefined) changes.push(change);
    }
    return changes;
  }

  /** What a page needs before its first change, of those who have been told of: to be asked when nothing is left to take. */
  whole(maySee: (athleteId: string) => boolean): Uint8Array[] {
    return [...this.#feeds].flatMap(([athleteId, { slot, told, tracedToMs }]) =>
      told === undefined || !maySee(athleteId)
        ? []
        : [wholeBlock(slot, wholeOf(told, tracedToMs, tracedToMs, []))],
    );
  }
}

function takeChange(feed: Feed, now: LiveState): LiveChange | undefined {
  const { slot, told, tracedToMs: fromMs } = feed;
  const state: LiveState =
    told === undefined
      ? now
      : { ...now, spo2: steady(told.spo2, now.spo2), heartRate: steady(told.heartRate, now.heartRate) };
  const traces = feed.memory.takeNew();
  const tracedToMs = traces.length === 0 ? fromMs : state.atMs;
  const block =
    told === undefined
      ? wholeBlock(slot, wholeOf(state, fromMs, tracedToMs, traces))
      : changeBlock(slot, told, state, traces);
  feed.told = state;
  feed.tracedToMs = tracedToMs;
  return block && { slot, state, fromMs, tracedToMs, traces, block };
}

/** The reading as told before, where the new one is a repeat. */
const steady = (told: Readout, now: Readout): Readout =>
  told !== null && now !== null && isRepeat(told, now) ? told : now;

const wholeOf = (
  state: LiveState,
  fromMs: MonotonicMs,
  tracedToMs: MonotonicMs,
  traces: readonly Trace[],
): WholeState => ({ state, fromMs, tracedToMs, traces, droppedCount: 0, decimatedCount: 0 });
