// At a school: the rooms that a coach's device is for; all of them, or some that are chosen when it is let in.

import type { Signal } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import { ChoiceField } from '../../components/choice-field.tsx';
import { Tick } from '../../components/tick.tsx';
import { formatList, isolated } from '../../state/format.ts';

/** `chosen`: hubs by their names at the school; null for all. */
export function RoomsField({ chosen }: { readonly chosen: Signal<readonly string[] | null> }) {
  const { text, rooms } = useApp();
  const words = text.rooms;
  const all = rooms.value?.rooms.value ?? [];
  const hubs = chosen.value;
  return (
    <>
      <ChoiceField
        label={words.coachOf}
        value={hubs === null ? 'all' : 'some'}
        choices={[
          ['all', words.allRooms],
          ['some', words.someRooms],
        ]}
        onChange={(which) => (chosen.value = which === 'all' ? null : [])}
      />
      {hubs === null ? null : (
        <fieldset class="rooms-of-coach">
          <legend>{words.whichRooms}</legend>
          {all.map(({ hub, told }) => (
            <Tick
              key={hub}
              checked={hubs.includes(hub)}
              onChange={(isChosen) =>
                (chosen.value = isChosen ? [...hubs, hub] : hubs.filter((each) => each !== hub))
              }
            >
              {isolated(told.value.name)} ({hub})
            </Tick>
          ))}
        </fieldset>
      )}
    </>
  );
}

/** Nothing for a device that is for all. */
export function RoomsOfCoach({ hubs }: { readonly hubs: readonly string[] | undefined }) {
  const { text, rooms } = useApp();
  if (hubs === undefined) return null;
  const names = new Map(rooms.value?.rooms.value.map(({ hub, told }) => [hub, told.value.name]));
  return <span>{text.rooms.ofRooms(formatList(hubs.map((hub) => isolated(names.get(hub) ?? hub))))}</span>;
}
