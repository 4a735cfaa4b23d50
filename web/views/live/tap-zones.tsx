// The tap zones: one big control for hold start and end, one for a contraction. They act on press, not on release.

import { useComputed } from '@preact/signals';
import { useRef } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';
import type { AthleteModel } from '../../state/athlete-model.ts';

/** Two presses within this time are one press of a shaking hand. Of our own choosing. */
const bounceMs = 350;

export function TapZones({ model }: { readonly model: AthleteModel }) {
  const { text, commands, outbox, timers } = useApp();
  const boundary = useComputed(() => {
    outbox.pending.value;
    model.holds.value;
    return commands.nextBoundary(model.athleteId);
  });
  const lastPressMs = useRef({ boundary: Number.NEGATIVE_INFINITY, contraction: Number.NEGATIVE_INFINITY });
  const press = (zone: 'boundary' | 'contraction') => {
    const nowMs = timers.nowMs();
    if (nowMs - lastPressMs.current[zone] < bounceMs) return;
    lastPressMs.current[zone] = nowMs;
    commands.mark(model.athleteId, zone === 'contraction' ? 'contraction' : boundary.peek());
  };
  return (
    <div class="zones">
      <button
        type="button"
        class={`zone zone--boundary zone--${boundary.value}`}
        onPointerDown={(event) => event.button === 0 && press('boundary')}
        onClick={(event) => event.detail === 0 && press('boundary')}
      >
        {boundary.value === 'holdStart' ? text.live.holdStart : text.live.holdEnd}
      </button>
      <button
        type="button"
        class="zone zone--contraction"
        onPointerDown={(event) => event.button === 0 && press('contraction')}
        onClick={(event) => event.detail === 0 && press('contraction')}
      >
        {text.live.contraction}
      </button>
    </div>
  );
}
