// Who trains: a box a person, their floor once chosen, and a new person by name.

import { useSignal } from '@preact/signals';
import type { Athlete } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { Name } from '../../components/name.tsx';
import { FloorStepper } from '../../components/settings-form.tsx';
import { Tick } from '../../components/tick.tsx';
import { isolated } from '../../state/format.ts';
import { AthleteNames } from './athlete-names.tsx';
import type { SetupAthletes } from './use-setup-athletes.ts';

export function WhoTrains({ athletes, picked, toggle, add, changeFloor, reload }: SetupAthletes) {
  const { text, hub } = useApp();
  const words = text.setup;
  const naming = useSignal<Athlete | null>(null);
  return (
    <section class="step">
      <h2>{words.who}</h2>
      {athletes.value?.length === 0 ? <p class="hint">{words.noAthletes}</p> : null}
      <ul class="people">
        {(athletes.value ?? []).map((athlete) => {
          const isChosen = picked.value.includes(athlete);
          return (
            <li key={athlete.athleteId} class={isChosen ? 'is-chosen' : ''}>
              <Tick checked={isChosen} onChange={() => toggle(athlete.athleteId)}>
                <Name>{athlete.name}</Name>
                {athlete.simulated ? <small class="tag">{text.simulatedShort}</small> : null}
              </Tick>
              {hub.mayAct.value ? (
                <button
                  type="button"
                  class="button button--quiet"
                  aria-label={text.names.edit(athlete.name)}
                  onClick={() => (naming.value = athlete)}
                >
                  {text.names.editShort}
                </button>
              ) : null}
              {isChosen ? (
                <FloorStepper
                  label={words.floorFor(isolated(athlete.name))}
                  floor={athlete.settings.floorSpo2Percent}
                  onChange={(floor) => void changeFloor(athlete, floor)}
                />
              ) : null}
            </li>
          );
        })}
      </ul>
      {naming.value === null ? null : (
        <AthleteNames
          key={naming.value.athleteId}
          athlete={naming.value}
          onClose={() => (naming.value = null)}
          onChanged={reload}
        />
      )}
      <NewAthleteForm add={add} />
      <details class="explain">
        <summary>{words.floorWhat}</summary>
        <p>{words.floorHelp}</p>
      </details>
    </section>
  );
}

function NewAthleteForm({ add }: Pick<SetupAthletes, 'add'>) {
  const { text } = useApp();
  const words = text.setup;
  const typed = useSignal('');
  const nameMissing = useSignal(false);
  const submit = async (event: Event) => {
    event.preventDefault();
    const name = typed.value.trim();
    nameMissing.value = name === '';
    // The next name may be typed by the time the hub has this one.
    if (name !== '' && (await add(name)) && typed.value.trim() === name) typed.value = '';
  };
  return (
    <form class="add-athlete" onSubmit={(event) => void submit(event)}>
      <label class="field">
        <span>{words.athleteName}</span>
        <input
          type="text"
          maxLength={80}
          value={typed.value}
          autocomplete="off"
          aria-invalid={nameMissing.value}
          onInput={(event) => (typed.value = event.currentTarget.value)}
        />
      </label>
      <button type="submit" class="button">
        {words.addAthlete}
      </button>
      {nameMissing.value ? <p class="problem">{words.nameNeeded}</p> : null}
    </form>
  );
}
