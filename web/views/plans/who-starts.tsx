// Who runs a plan, how several of them start, and whether holds are taken from the cues where no sensor tells.

import type { Signal } from '@preact/signals';
import type { Plan } from '../../../shared/plan.ts';
import type { Athlete } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { Name } from '../../components/name.tsx';
import { Tick } from '../../components/tick.tsx';
import { type StartMode, startModes, type WaveChoice } from './plan-start.ts';
import { WaveFields } from './wave-fields.tsx';

export interface WhoStartsProps {
  /** Null until they are known. */
  readonly athletes: readonly Athlete[] | null;
  readonly chosenIds: readonly string[];
  readonly onToggle: (athleteId: string) => void;
  readonly onAll: (athleteIds: readonly string[]) => void;
  readonly plan: Plan;
  readonly longestHoldMs: number;
  readonly mode: Signal<StartMode>;
  readonly waves: Signal<WaveChoice>;
  readonly assumeFromCues: Signal<boolean>;
}

export function WhoStarts(props: WhoStartsProps) {
  const { athletes, chosenIds, onToggle, mode, waves, assumeFromCues } = props;
  const { text, hub } = useApp();
  const words = text.plans;
  return (
    <section class="step no-print">
      <h2>{words.who}</h2>
      {athletes?.length === 0 ? <p class="hint">{words.nobody}</p> : null}
      {(athletes?.length ?? 0) > 2 ? (
        <button
          type="button"
          class="button"
          onClick={() => props.onAll((athletes ?? []).map(({ athleteId }) => athleteId))}
        >
          {words.all(athletes?.length ?? 0)}
        </button>
      ) : null}
      <ul class="people people--columns">
        {(athletes ?? []).map(({ athleteId, name }) => {
          const isChosen = chosenIds.includes(athleteId);
          return (
            <li key={athleteId} class={isChosen ? 'is-chosen' : ''}>
              <Tick checked={isChosen} onChange={() => onToggle(athleteId)}>
                <Name>{name}</Name>
              </Tick>
            </li>
          );
        })}
      </ul>
      {chosenIds.length > 1 ? (
        <fieldset class="start-modes">
          <legend>{words.howStart}</legend>
          {startModes.map((each) => (
            <label class="tick" key={each}>
              <input
                type="radio"
                name="starts"
                checked={mode.value === each}
                onChange={() => (mode.value = each)}
              />
              <span>{words.startModes[each]}</span>
            </label>
          ))}
        </fieldset>
      ) : null}
      {chosenIds.length > 1 && mode.value === 'waves' ? (
        <WaveFields
          plan={props.plan}
          chosen={(athletes ?? []).filter(({ athleteId }) => chosenIds.includes(athleteId))}
          waves={waves}
          longestHoldMs={props.longestHoldMs}
        />
      ) : null}
      <Tick checked={assumeFromCues.value} onChange={(on) => (assumeFromCues.value = on)}>
        {words.assume}
      </Tick>
      {hub.recording.value ? null : <p class="problem">{words.noSession}</p>}
    </section>
  );
}
