// Ctrl Z takes a correction back and Ctrl Shift Z brings it again, while somebody corrects.

import { useLayoutEffect, useRef } from 'preact/hooks';
import type { CorrectionStep } from './correction-state.ts';

/** `onStep` hears each press, but for those in a field, which undoes what was typed into it. */
export function useCorrectionKeys(
  on: boolean,
  isPossible: (step: CorrectionStep) => boolean,
  onStep: (step: CorrectionStep) => void,
): void {
  const hear = useRef<(event: KeyboardEvent) => void>(() => undefined);
  hear.current = (event) => {
    const isUndo = (event.ctrlKey || event.metaKey) && !event.altKey && event.key.toLowerCase() === 'z';
    if (!isUndo || event.target instanceof HTMLInputElement) return;
    event.preventDefault();
    const step = event.shiftKey ? 'redo' : 'undo';
    if (isPossible(step)) onStep(step);
  };
  // Before the paint: a key pressed as soon as the page is seen is heard.
  useLayoutEffect(() => {
    if (!on) return undefined;
    const listener = (event: KeyboardEvent) => hear.current(event);
    addEventListener('keydown', listener);
    return () => removeEventListener('keydown', listener);
  }, [on]);
}
