// What of the list is shown: words, athlete, days, kind.

import type { Signal } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import { ChoiceField } from '../../components/choice-field.tsx';
import { isFiltered, noFilter, type RecordingFilter, recordingKinds } from '../../state/recording-filter.ts';

export interface RecordingFiltersProps {
  readonly filter: Signal<RecordingFilter>;
  readonly athletes: readonly { readonly athleteId: string; readonly name: string }[];
  readonly shownCount: number;
  readonly wholeCount: number;
  readonly onChange: () => void;
}

export function RecordingFilters({
  filter,
  athletes,
  shownCount,
  wholeCount,
  onChange,
}: RecordingFiltersProps) {
  const { text } = useApp();
  const words = text.list;
  const change = (part: Partial<RecordingFilter>) => {
    filter.value = { ...filter.value, ...part };
    onChange();
  };
  const { search, athleteId, fromDay, untilDay, kind } = filter.value;
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
      <details class="explain recording-filters-more" open={athleteId + kind + fromDay + untilDay !== ''}>
        <summary>{words.narrow}</summary>
        <div class="recording-filters-grid">
          <ChoiceField
            label={words.athlete}
            value={athleteId}
            choices={[
              ['', words.all],
              ...athletes.map((each): [string, string] => [each.athleteId, each.name]),
            ]}
            onChange={(id) => change({ athleteId: id })}
          />
          <ChoiceField
            label={words.kind}
            value={kind}
            choices={[
              ['' as const, words.all],
              ...recordingKinds.map((each): [RecordingFilter['kind'], string] => [each, words.kinds[each]]),
            ]}
            onChange={(chosen) => change({ kind: chosen })}
          />
          <DayField label={words.from} day={fromDay} onChange={(day) => change({ fromDay: day })} />
          <DayField label={words.until} day={untilDay} onChange={(day) => change({ untilDay: day })} />
        </div>
      </details>
      <p class="recording-filters-found" role="status">
        {words.found(shownCount, wholeCount)}
        {isFiltered(filter.value) ? (
          <button type="button" class="button button--quiet" onClick={() => change(noFilter)}>
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
