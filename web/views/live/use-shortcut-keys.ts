// The live page's keys. They can be turned off (WCAG 2.2, 2.1.4) and leave controls in focus and dialogs alone.

import { useLayoutEffect } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';
import type { AthleteModel } from '../../state/athlete-model.ts';

/** Only a question can be answered. */
const isAskedForEnd = (model: AthleteModel): boolean => model.holds.value.at(-1)?.probableEnd !== undefined;

export function useShortcutKeys(model: AthleteModel): void {
  const { commands, preferences, hub } = useApp();
  // Before the paint: a key pressed as soon as the page is seen is heard.
  useLayoutEffect(() => {
    const { athleteId } = model;
    const paused = () => {
      const untilMs = model.sound.value.audioPausedUntilMs;
      return untilMs !== null && untilMs > (hub.nowMs.value ?? 0);
    };
    const actions: Readonly<Record<string, () => void>> = {
      ' ': () => commands.mark(athleteId, commands.nextBoundary(athleteId)),
      c: () => commands.mark(athleteId, 'contraction'),
      h: () => {
        if (isAskedForEnd(model)) commands.mark(athleteId, 'stillHolding');
      },
      u: () => commands.undo(athleteId),
      s: () => commands.pauseSound(athleteId, !paused()),
    };
    const onKey = (event: KeyboardEvent) => {
      if (!preferences.shortcutKeys.value || event.repeat) return;
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const target = event.target instanceof Element ? event.target : null;
      if (target?.closest('dialog, input, select, textarea')) return;
      if (event.key === ' ' && target?.closest('button, a, summary')) return;
      const action = actions[event.key.toLowerCase()];
      if (action === undefined) return;
      event.preventDefault();
      action();
    };
    addEventListener('keydown', onKey);
    return () => removeEventListener('keydown', onKey);
  }, [model]);
}
