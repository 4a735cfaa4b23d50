// Before a hold: how full the lungs will be, said by one tap. It is a mark, so it can be taken back and a review reads it.

import { useComputed } from '@preact/signals';
import { holdLungs } from '../../../src/oxygen/lung-states.ts';
import { lungsOfMark, markOfLungs } from '../../../src/samples/mark.ts';
import { useApp } from '../../app/app-context.ts';
import type { AthleteModel } from '../../state/athlete-model.ts';
import './lungs-bar.css';

export function LungsBar({ model }: { readonly model: AthleteModel }) {
  const { text, commands, outbox } = useApp();
  const words = text.lungs;
  const said = useComputed(() => {
    // A tap counts at once; the hub's word replaces it.
    const pending = outbox.pending.value.findLast(
      (mark) => mark.athleteId === model.athleteId && lungsOfMark[mark.kind] !== undefined,
    );
    return pending === undefined ? (model.forecast.value.lungs?.said ?? null) : lungsOfMark[pending.kind];
  });
  // While an alarm asks for someone, readings need the room and nothing else is to be asked.
  const isUrgent = useComputed(() =>
    model.alarms.value.some(({ priority, acknowledged }) => priority === 'high' && !acknowledged),
  );
  if (model.phase.value === 'holding' || isUrgent.value) return null;
  return (
    <fieldset class="lungs-bar">
      <legend>{words.ask}</legend>
      {holdLungs.map((lungs) => (
        <button
          key={lungs}
          type="button"
          class="button"
          aria-pressed={said.value === lungs}
          onClick={() => commands.mark(model.athleteId, markOfLungs[lungs])}
        >
          {words.choice[lungs]}
        </button>
      ))}
    </fieldset>
  );
}
