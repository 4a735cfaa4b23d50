// Timing on the pool deck or a lawn: one button as large as the screen allows, a clock, and the last tap taken back.

import { useComputed, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { TrainingEntry } from '../../../shared/training-log.ts';
import { clockText } from '../../../shared/words/formats.ts';
import { entryCautions, isInWater } from '../../../src/training/entry-cautions.ts';
import {
  entryOfTiming,
  type LapTiming,
  lapsWithinMs,
  nextStartMs,
  nextTap,
  repetitionsMs,
  tapTiming,
  undoTap,
} from '../../../src/training/lap-timing.ts';
import { useApp } from '../../app/app-context.ts';
import { WakeLock } from '../../app/wake-lock.ts';
import { forgetTiming, keepTiming } from '../../state/lap-storage.ts';
import './log.css';
import { isolated } from '../../state/format.ts';

let wakeLock: WakeLock | null = null;
const clockIntervalMs = 200;

export interface LapTimerProps {
  readonly entry: TrainingEntry;
  readonly begun: LapTiming;
  /** With what was timed in it, to be looked over and saved. */
  readonly onDone: (entry: TrainingEntry) => void;
  readonly onCancel: () => void;
}

export function LapTimer({ entry, begun, onDone, onCancel }: LapTimerProps) {
  const { text, say, timers } = useApp();
  const words = text.history.timer;
  const timing = useSignal(begun);
  const nowMs = useSignal(Date.now());
  useEffect(() => {
    wakeLock ??= new WakeLock();
    wakeLock.keepAwake(true);
    const cancel = timers.every(clockIntervalMs, () => {
      nowMs.value = Date.now();
    });
    return () => {
      cancel();
      wakeLock?.keepAwake(false);
    };
  }, []);
  const change = (next: LapTiming) => {
    timing.value = next;
    nowMs.value = Date.now();
    if (next.tapsMs.length === 0) forgetTiming(localStorage);
    else keepTiming(localStorage, { entry, timing: next });
  };
  const { kind, tapsMs } = timing.value;
  const action = nextTap(timing.value);
  const lengthMs = entry.kind === 'timedSwim' ? entry.lengthSeconds * 1_000 : null;
  const sinceStart = useComputed(() =>
    timing.value.tapsMs.length === 0 ? 0 : nowMs.value - timing.value.startedWallAtMs,
  );
  const clock = useComputed(() => {
    const taps = timing.value.tapsMs;
    if (taps.length === 0) return clockText(0);
    if (kind === 'timedSwim') return clockText(Math.max(0, (lengthMs ?? 0) - sinceStart.value));
    const next = entry.kind === 'poolSet' ? nextStartMs(timing.value, entry.everySeconds * 1_000) : null;
    if (next !== null) return clockText(Math.max(0, next - sinceStart.value));
    return clockText(Math.max(0, sinceStart.value - taps.at(-1)!));
  });
  const clockLabel = useComputed(() => {
    const taps = timing.value.tapsMs;
    if (taps.length === 0) return words.ready;
    if (kind === 'timedSwim') return sinceStart.value >= (lengthMs ?? 0) ? words.swimOver : words.left;
    if (taps.length % 2 === 1) return kind === 'poolSet' ? words.swimming : words.walking;
    if (entry.kind !== 'poolSet') return words.breathing;
    const next = nextStartMs(timing.value, entry.everySeconds * 1_000) ?? 0;
    return sinceStart.value >= next ? words.mayStart : words.nextStart;
  });
  const done =
    kind === 'timedSwim'
      ? lapsWithinMs(timing.value, lengthMs ?? 0).map((atMs, index, all) => atMs - (all[index - 1] ?? 0))
      : repetitionsMs(timing.value);
  return (
    <section class="step lap-timer" aria-label={words.title}>
      <h2>
        {words.title}: {text.plans.training.kinds[kind]}
      </h2>
      {isInWater(entry) ? <p>{words.buddyWatches(isolated(entry.buddyName ?? ''))}</p> : null}
      {entryCautions(entry).map((caution) => (
        <p class="problem" key={caution.code}>
          {say(caution)}
        </p>
      ))}
      <p class="lap-clock" role="timer">
        <span class="lap-clock-label">{clockLabel}</span>
        <span class="lap-clock-value">{clock}</span>
        <span class="lap-clock-label">
          {kind === 'timedSwim' ? words.laps(done.length) : words.rounds(done.length)}
        </span>
      </p>
      <button
        type="button"
        class="button button--primary lap-button"
        onClick={() => change(tapTiming(timing.value, Date.now()))}
      >
        {words.tap[kind][action === 'lap' ? 'end' : action]}
      </button>
      <div class="lap-actions">
        <button
          type="button"
          class="button"
          disabled={tapsMs.length === 0}
          onClick={() => change(undoTap(timing.value))}
        >
          {words.undo}
        </button>
        <button
          type="button"
          class="button"
          disabled={done.length === 0}
          onClick={() => {
            forgetTiming(localStorage);
            onDone(entryOfTiming(entry, timing.value));
          }}
        >
          {words.finish}
        </button>
        <button
          type="button"
          class="button button--quiet"
          onClick={() => {
            forgetTiming(localStorage);
            onCancel();
          }}
        >
          {words.cancel}
        </button>
      </div>
      <ol class="lap-list">
        {done
          .map((lengthOfMs, index) => ({ number: index + 1, lengthOfMs }))
          .reverse()
          .map(({ number, lengthOfMs }) => (
            <li key={number}>
              <span class="lap-list-number">{number}</span> {clockText(lengthOfMs)}
            </li>
          ))}
      </ol>
    </section>
  );
}
