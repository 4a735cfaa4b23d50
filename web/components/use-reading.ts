// A reading's words as signals that change only when the words do, so that a tick re-renders no component.

import { type ReadonlySignal, useComputed } from '@preact/signals';
import { useApp } from '../app/app-context.ts';
import type { AthleteModel } from '../state/athlete-model.ts';
import type { Freshness } from '../state/freshness.ts';
import { marginPercent, type ReadingText, readingText } from '../state/reading-text.ts';
import './reading.css';

export interface ReadingSignals {
  readonly number: ReadonlySignal<string>;
  readonly note: ReadonlySignal<string>;
  readonly freshness: ReadonlySignal<Freshness>;
  readonly className: ReadonlySignal<string>;
}

export function useReading(model: AthleteModel, quantity: 'spo2' | 'heartRate'): ReadingSignals {
  const { hub, text } = useApp();
  const whole = useComputed<ReadingText>(() =>
    readingText(
      model[quantity].value,
      hub.nowMs.value,
      hub.isPresentUnknown.value,
      hub.hub.value?.timeScale ?? 1,
      text,
    ),
  );
  return {
    number: useComputed(() => whole.value.number),
    note: useComputed(() => whole.value.note),
    freshness: useComputed(() => whole.value.freshness),
    className: useComputed(
      () =>
        `reading reading--${quantity} is-${whole.value.freshness} quality-${whole.value.quality ?? 'none'}`,
    ),
  };
}

export function useMargin(
  model: AthleteModel,
  freshness: ReadonlySignal<Freshness>,
): ReadonlySignal<number | null> {
  return useComputed(() =>
    marginPercent(model.spo2.value, model.athlete.value.settings.floorSpo2Percent, freshness.value),
  );
}
