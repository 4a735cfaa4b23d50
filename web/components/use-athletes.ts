// The hub's athletes, asked for once when a view is opened.

import { type ReadonlySignal, useComputed, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Athlete } from '../../shared/views.ts';
import { useApp } from '../app/app-context.ts';

/** Null until the hub has answered, and where it did not: `onFailed` hears why. */
export function useAthletes(onFailed?: (reason: string) => void): ReadonlySignal<readonly Athlete[] | null> {
  const { http } = useApp();
  const athletes = useSignal<readonly Athlete[] | null>(null);
  useEffect(() => {
    void http.athletes().then((answer) => {
      if (answer.ok) athletes.value = answer.value.athletes;
      else onFailed?.(answer.reason);
    });
  }, []);
  return athletes;
}

/** Names by athlete; empty until they are known. */
export function useAthleteNames(): ReadonlySignal<ReadonlyMap<string, string>> {
  const athletes = useAthletes();
  return useComputed(() => new Map(athletes.value?.map(({ athleteId, name }) => [athleteId, name])));
}
