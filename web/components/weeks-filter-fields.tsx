// Narrows past sessions to those alike: a plan, a tag, a place, lungs. Fields without anything to choose are left out.

import { useApp } from '../app/app-context.ts';
import type { WeeksChoices, WeeksFilter } from '../state/weeks-filter.ts';
import { ChoiceField } from './choice-field.tsx';

export interface WeeksFilterFieldsProps {
  readonly filter: WeeksFilter;
  readonly choices: WeeksChoices;
  readonly onChange: (filter: WeeksFilter) => void;
}

export function WeeksFilterFields({ filter, choices, onChange }: WeeksFilterFieldsProps) {
  const { text } = useApp();
  const words = text.weeksMore.filter;
  const listed = (values: readonly string[]): [string, string][] => [
    ['', words.all],
    ...values.map((value): [string, string] => [value, value]),
  ];
  return (
    <>
      {choices.plans.length === 0 ? null : (
        <ChoiceField
          label={words.plan}
          value={filter.plan}
          choices={listed(choices.plans)}
          onChange={(plan) => onChange({ ...filter, plan })}
        />
      )}
      {choices.tags.length === 0 ? null : (
        <ChoiceField
          label={words.tag}
          value={filter.tag}
          choices={listed(choices.tags)}
          onChange={(tag) => onChange({ ...filter, tag })}
        />
      )}
      {choices.places.length === 0 ? null : (
        <ChoiceField
          label={words.place}
          value={filter.place}
          choices={listed(choices.places)}
          onChange={(place) => onChange({ ...filter, place })}
        />
      )}
      {choices.lungs.length === 0 ? null : (
        <ChoiceField
          label={words.lungs}
          value={filter.lungs}
          choices={[
            ['' as const, words.all],
            ...choices.lungs.map((each): [WeeksFilter['lungs'], string] => [each, words.lungsWords[each]]),
          ]}
          onChange={(lungs) => onChange({ ...filter, lungs })}
        />
      )}
    </>
  );
}
