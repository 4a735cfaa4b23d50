// Starting a session from its setting up: asks the hub once, and goes on to the plan, the athlete or the wall.

import { type ReadonlySignal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';

export interface SessionStart {
  /** Asked for, and neither there nor refused. */
  readonly starting: ReadonlySignal<boolean>;
  /** `title` may be empty. */
  readonly start: (athleteIds: readonly string[], title: string) => void;
}

/** `planPath` is the chosen plan's address under /plans/; '' for none. */
export function useSessionStart(planPath: ReadonlySignal<string>): SessionStart {
  const { text, hub, commands, router } = useApp();
  const starting = useSignal(false);
  const recording = hub.recording.value;
  useEffect(() => {
    if (!starting.value || !recording) return;
    const ids = hub.session.value?.athleteIds ?? [];
    if (planPath.value !== '') router.go(`/plans/${planPath.value}`);
    else router.go(ids.length === 1 ? `/live/${ids[0]}` : '/wall');
  }, [recording]);
  return {
    starting,
    start: (athleteIds, title) => {
      starting.value = true;
      void commands.startSession(athleteIds, title.trim() || text.setup.untitled).then((answer) => {
        // What the hub refuses, it says itself, in the frame.
        if (answer.type !== 'done') starting.value = false;
      });
    },
  };
}
