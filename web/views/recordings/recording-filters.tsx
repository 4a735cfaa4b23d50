// What of the list is shown: words, athlete, kind, plan, tag, place, condition, days.

import { type Signal, useSignal } from '@preact/signals';
import type { FoundRecordingsBody } from '../../../shared/http.ts';
import { recordingConditions, recordingKinds } from '../../../src/sessions/found-recordings.ts';
import { useApp } from '../../app/app-context.ts';
import { isSchool } from '../../app/is-school.ts';
import { ChoiceField } from '../../components/choice-field.tsx';
import { isFiltered, noFields, type RecordingFields } from '../../state/recordings-query.ts';

export interface RecordingFiltersProps {
  readonly fields: Signal<RecordingFields>;
  readonly found: Pick<FoundRecordingsBody, 'foundCount' | 'wholeCount' | 'choices'>;
  readonly onChange: () => void;
}

export function RecordingFilters({ fields, found, onChange }: RecordingFiltersProps) {
  const { text, rooms } = useApp();
  const words = text.list;
  const more = text.weeksMore.list;
  const { choices, foundCount, wholeCount } = found;
  const change = (part: Partial<RecordingFields>) => {
    fields.value = { ...fields.value, ...part };
    onChange();
  };
  const { search, ...narrowing } = fields.value;
  const { athleteId, leader, room, fromDay, untilDay, kind, plan, tag, place, condition } = narrowing;
  // Open where it narrows something; then as a person leaves it.
  const isOpen = useSignal(Object.values(narrowing).some((value) => value !== ''));
  const listed = (values: readonly string[]): [string, string][] => [
    ['', words.all],
    ...values.map((value): [string, string] => [value, value]),
  ];
  return (
    <form class="recording-filters" aria-label={words.search} onSubmit={(event) => event.preventDefault()}>
      <label class="field">
        <span>{words.search}</span>
        <input
          type="search"
          placeholder={words.searchHint}
          value={search}
          onInput={(event) => change({ search: event.currentTarget.value })}
        />
      </label>
      <details
        class="explain recording-filters-more"
        open={isOpen.value}
        onToggle={(event) => (isOpen.value = event.currentTarget.open)}
      >
        <summary>{words.narrow}</summary>
        <div class="recording-filters-grid">
          <ChoiceField
            label={words.athlete}
            value={athleteId}
            choices={[
              ['', words.all],
              ...choices.athletes.map((each): [string, string] => [each.athleteId, each.name]),
            ]}
            onChange={(id) => change({ athleteId: id })}
          />
          {choices.leaders.length === 0 ? null : (
            <ChoiceField
              label={words.leader}
              value={leader}
              choices={listed(choices.leaders)}
              onChange={(chosen) => change({ leader: chosen })}
            />
          )}
          {isSchool() ? (
            <ChoiceField
              label={text.rooms.room}
              value={room}
              choices={[
                ['', words.all],
                ...(rooms.value?.rooms.value ?? []).map(({ hub, told }): [string, string] => [
                  hub,
                  told.value.name === hub ? hub : `${told.value.name} (${hub})`,
                ]),
              ]}
              onChange={(hub) => change({ room: hub })}
            />
          ) : null}
          <ChoiceField
            label={words.kind}
            value={kind}
            choices={[
              ['' as const, words.all],
              ...recordingKinds.map((each): [RecordingFields['kind'], string] => [each, words.kinds[each]]),
            ]}
            onChange={(chosen) => change({ kind: chosen })}
          />
          {choices.plans.length === 0 ? null : (
            <ChoiceField
              label={more.plan}
              value={plan}
              choices={listed(choices.plans)}
              onChange={(chosen) => change({ plan: chosen })}
            />
          )}
          {choices.tags.length === 0 ? null : (
            <ChoiceField
              label={more.tag}
              value={tag}
              choices={listed(choices.tags)}
              onChange={(chosen) => change({ tag: chosen })}
            />
          )}
          {choices.places.length === 0 ? null : (
            <ChoiceField
              label={more.place}
              value={place}
              choices={listed(choices.places)}
              onChange={(chosen) => change({ place: chosen })}
            />
          )}
          <ChoiceField
            label={more.condition}
            value={condition}
            choices={[
              ['' as const, words.all],
              ...recordingConditions.map((each): [RecordingFields['condition'], string] => [
                each,
                more.conditions[each],
              ]),
            ]}
            onChange={(chosen) => change({ condition: chosen })}
          />
          <DayField label={words.from} day={fromDay} onChange={(day) => change({ fromDay: day })} />
          <DayField label={words.until} day={untilDay} onChange={(day) => change({ untilDay: day })} />
        </div>
      </details>
      <p class="recording-filters-found" role="status">
        {words.found(foundCount, wholeCount)}
        {isFiltered(fields.value) ? (
          <button type="button" class="button button--quiet" onClick={() => change(noFields)}>
            {words.clear}
          </button>
        ) : null}
      </p>
    </form>
  );
}

function DayField(props: {
  readonly label: string;
  readonly day: string;
  readonly onChange: (day: string) => void;
}) {
  return (
    <label class="field">
      <span>{props.label}</span>
      <input type="date" value={props.day} onInput={(event) => props.onChange(event.currentTarget.value)} />
    </label>
  );
}
