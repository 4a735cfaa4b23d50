// What a person looks at in a recording's traces beside the range: the cursor, two points to measure between, the scales, and
// going from hold to hold and from event to event.

import { type ReadonlySignal, type Signal, useComputed, useSignal } from '@preact/signals';
import type { AthleteRecording } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import type { ValueScale } from '../../charts/plot-options.ts';
import { formatDuration, formatExactTime } from '../../state/format.ts';
import { fitRange, moveRange, rangeAfterKey, type TimeRange } from '../../state/time-range.ts';
import { jumpFrom } from '../../state/trace-reading.ts';
import { eventGroups } from './event-lines.ts';

export type ScaleMode = 'usual' | 'fitted' | 'own';
export type OwnScales = Readonly<Record<'spo2' | 'heartRate', readonly [least: number, greatest: number]>>;

export interface TracePoints {
  readonly a: number;
  readonly b: number;
}

export interface TraceView {
  readonly range: Signal<TimeRange>;
  /** Where the pointer is, or else where it was set; session seconds. */
  readonly cursor: ReadonlySignal<number | null>;
  /** Moves with a mouse; null once it has left. */
  readonly hover: Signal<number | null>;
  /** Stays where a tap, a key or a jump put it. */
  readonly pinned: Signal<number | null>;
  readonly points: Signal<TracePoints | null>;
  readonly scaleMode: Signal<ScaleMode>;
  readonly ownScales: Signal<OwnScales>;
  scaleOf(quantity: 'spo2' | 'heartRate' | 'pleth'): ValueScale;
  /** What was last jumped to, in words. */
  readonly arrived: ReadonlySignal<string>;
  jumpToHold(direction: 1 | -1): void;
  jumpToEvent(direction: 1 | -1): void;
  setPoint(which: 'a' | 'b', atSeconds: number): void;
  measureHere(): void;
  onKey(event: KeyboardEvent): void;
}

/** Shown round a hold that is jumped to: half a minute after its end, the finger shows what the lungs held at it. */
const beforeHoldSeconds = 30;
const afterHoldSeconds = 60;

export interface TraceViewParts {
  readonly athlete: AthleteRecording;
  readonly range: Signal<TimeRange>;
  readonly whole: TimeRange;
}

export function useTraceView({ athlete, range, whole }: TraceViewParts): TraceView {
  const { text } = useApp();
  const words = text.traces;
  const hover = useSignal<number | null>(null);
  const pinned = useSignal<number | null>(null);
  const cursor = useComputed(() => hover.value ?? pinned.value);
  const points = useSignal<TracePoints | null>(null);
  const scaleMode = useSignal<ScaleMode>('usual');
  const ownScales = useSignal<OwnScales>({ spo2: [80, 100], heartRate: [40, 100] });
  const arrived = useSignal('');
  const middle = () => (range.value.fromSeconds + range.value.toSeconds) / 2;
  /** Where going on begins: at the cursor, else in the middle, and with all of it in view at its end. */
  const goingFrom = (direction: 1 | -1) => {
    const { fromSeconds, toSeconds } = range.value;
    const isWhole = fromSeconds <= whole.fromSeconds && toSeconds >= whole.toSeconds;
    return pinned.value ?? (isWhole ? direction * Number.NEGATIVE_INFINITY : middle());
  };

  const jumpToHold = (direction: 1 | -1) => {
    const starts = athlete.holds.map(({ hold }) => hold.start.atMs / 1_000);
    const index = jumpFrom(starts, goingFrom(direction), direction);
    const hold = index === null ? undefined : athlete.holds[index]?.hold;
    if (hold === undefined || index === null) {
      arrived.value = direction === 1 ? words.noLaterHold : words.noEarlierHold;
      return;
    }
    const endMs = hold.end?.atMs ?? whole.toSeconds * 1_000;
    pinned.value = starts[index]!;
    range.value = fitRange(
      { fromSeconds: starts[index]! - beforeHoldSeconds, toSeconds: endMs / 1_000 + afterHoldSeconds },
      whole,
    );
    arrived.value = words.atHold(index + 1, athlete.holds.length, formatDuration(hold.start.atMs));
  };
  const jumpToEvent = (direction: 1 | -1) => {
    const lines = eventGroups(athlete, text)
      .flatMap((group) => group.lines)
      .sort((a, b) => a.atMs - b.atMs);
    const times = lines.map(({ atMs }) => atMs / 1_000);
    const index = jumpFrom(times, goingFrom(direction), direction);
    if (index === null) {
      arrived.value = direction === 1 ? words.noLaterEvent : words.noEarlierEvent;
      return;
    }
    pinned.value = times[index]!;
    range.value = moveRange(range.value, times[index]! - middle(), whole);
    arrived.value = words.atEvent(lines[index]!.what, formatDuration(lines[index]!.atMs));
  };
  const setPoint = (which: 'a' | 'b', atSeconds: number) => {
    const width = range.value.toSeconds - range.value.fromSeconds;
    const other = Math.min(whole.toSeconds, Math.max(0, atSeconds + (which === 'a' ? 0.2 : -0.2) * width));
    points.value = { a: other, b: other, ...points.value, [which]: atSeconds };
  };
  const measureHere = () => {
    const { fromSeconds, toSeconds } = range.value;
    const third = (toSeconds - fromSeconds) / 3;
    points.value = points.value === null ? { a: fromSeconds + third, b: toSeconds - third } : null;
  };
  /** Into sight, too. */
  const moveCursor = (bySeconds: number) => {
    const to = Math.min(whole.toSeconds, Math.max(0, (cursor.value ?? middle()) + bySeconds));
    hover.value = null;
    pinned.value = to;
    const { fromSeconds, toSeconds } = range.value;
    if (to < fromSeconds || to > toSeconds) range.value = moveRange(range.value, to - middle(), whole);
    arrived.value = words.cursorAt(formatExactTime(to * 1_000));
  };
  const keys: Readonly<Record<string, () => void>> = {
    'shift+ArrowLeft': () => moveCursor(-1),
    'shift+ArrowRight': () => moveCursor(1),
    n: () => jumpToHold(1),
    p: () => jumpToHold(-1),
    'shift+n': () => jumpToEvent(1),
    'shift+p': () => jumpToEvent(-1),
    '1': () => setPoint('a', cursor.value ?? middle()),
    '2': () => setPoint('b', cursor.value ?? middle()),
    f: () => {
      scaleMode.value = scaleMode.value === 'fitted' ? 'usual' : 'fitted';
    },
    Escape: () => {
      points.value = null;
      pinned.value = null;
      hover.value = null;
    },
  };
  return {
    range,
    cursor,
    hover,
    pinned,
    points,
    scaleMode,
    ownScales,
    scaleOf: (quantity) =>
      quantity === 'pleth' || scaleMode.value === 'usual'
        ? 'usual'
        : scaleMode.value === 'fitted'
          ? 'fitted'
          : ownScales.value[quantity],
    arrived,
    jumpToHold,
    jumpToEvent,
    setPoint,
    measureHere,
    onKey(event) {
      if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
      // A letter is one with and without capitals; what is not a letter needs its own shift on some keyboards.
      const name = event.key.length === 1 ? event.key.toLowerCase() : event.key;
      const isShifted = event.shiftKey && (name.length > 1 || /[a-z]/.test(name));
      const act = keys[isShifted ? `shift+${name}` : name];
      const next = act === undefined ? rangeAfterKey(event.key, range.value, whole) : null;
      if (act === undefined && next === null) return;
      event.preventDefault();
      if (next === null) act?.();
      else range.value = next;
    },
  };
}
