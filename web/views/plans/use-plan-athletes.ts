// Who a plan can be run by, and who most likely will.

import { type ReadonlySignal, type Signal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Athlete } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { likelyAthleteIds } from './plan-start.ts';

export interface PlanAthletes {
  /** Null until the hub has answered. */
  readonly athletes: ReadonlySignal<readonly Athlete[] | null>;
  readonly chosenIds: Signal<readonly string[]>;
  /** Holds are taken from the cues: likely where no session runs, and no sensor tells. */
  readonly assumeFromCues: Signal<boolean>;
}

export function usePlanAthletes(onFailed: (reason: string) => void): PlanAthletes {
  const { http, hub } = useApp();
  const athletes = useSignal<readonly Athlete[] | null>(null);
  const chosenIds = useSignal<readonly string[]>([]);
  const assumeFromCues = useSignal(false);
  const live = hub.link.value === 'live';
  // Not before the hub has said which session runs: without it those in it would be taken for nobody watched. Once only: a choice
  // made since stands when the hub comes back.
  useEffect(() => {
    if (!live || athletes.peek() !== null) return;
    void http.athletes().then((answer) => {
      if (!answer.ok) {
        onFailed(answer.reason);
        return;
      }
      if (athletes.peek() !== null) return;
      const known = answer.value.athletes;
      const session = hub.session.value;
      athletes.value = known;
      chosenIds.value = likelyAthleteIds(
        session?.status === 'recording' ? session.athleteIds : [],
        known.map(({ athleteId }) => athleteId),
      );
      assumeFromCues.value = !hub.recording.value && known.length > 0;
    });
  }, [live]);
  return { athletes, chosenIds, assumeFromCues };
}
