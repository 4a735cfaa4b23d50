// The one time that a tile shows: of a hold that goes on, until the next start of a plan, or since the last hold.

import { type ReadonlySignal, useComputed } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import type { AthleteModel } from '../../state/athlete-model.ts';
import { formatDuration } from '../../state/format.ts';
import { athleteRunOf, countdownText } from '../plans/athlete-run-text.ts';

export interface TileClock {
  readonly kind: 'hold' | 'start' | 'since' | 'none';
  readonly time: string;
}

export function useTileClock(athleteId: string, model: AthleteModel | undefined): ReadonlySignal<TileClock> {
  const { hub, planRun } = useApp();
  return useComputed(() => {
    const hold = model?.holds.value.at(-1) ?? null;
    const nowMs = hub.nowMs.value;
    if (hold !== null && hold.end === null)
      return { kind: 'hold', time: formatDuration((nowMs ?? hold.start.atMs) - hold.start.atMs) };
    const state = planRun.state.value;
    const athleteRun = planRun.running.value ? athleteRunOf(state, athleteId) : undefined;
    if (athleteRun?.current) {
      const heldMs = (state?.nowMs ?? 0) - athleteRun.current.startedAtMs;
      return { kind: 'hold', time: formatDuration(heldMs) };
    }
    const countdown = athleteRun === undefined ? '' : countdownText(athleteRun, state?.nowMs ?? 0);
    if (countdown !== '') return { kind: 'start', time: countdown };
    if (hold?.end) return { kind: 'since', time: formatDuration((nowMs ?? hold.end.atMs) - hold.end.atMs) };
    return { kind: 'none', time: '\u2013' };
  });
}
