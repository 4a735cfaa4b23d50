// The fields of what is noted of a session, with a caution where one is due.

import { useSignal } from '@preact/signals';
import type { SessionDetails } from '../../../shared/session-details.ts';
import { useApp } from '../../app/app-context.ts';
import { ChoiceField } from '../../components/choice-field.tsx';

export interface DetailsFieldsProps {
  readonly details: SessionDetails;
  readonly onChange: (details: SessionDetails) => void;
}

export function DetailsFields({ details, onChange }: DetailsFieldsProps) {
  const { text } = useApp();
  const words = text.weeksMore.details;
  const change = (part: Partial<SessionDetails>) => onChange({ ...details, ...part });
  const choices = <Value extends string>(
    each: Readonly<Record<Value, string>>,
  ): readonly (readonly [Value | '', string])[] => [
    ['', words.unsaid],
    ...(Object.entries(each) as [Value, string][]),
  ];
  const { effort, company, illness } = details;
  return (
    <>
      <div class="session-details-grid">
        <ChoiceField
          label={words.effort}
          value={effort ?? ''}
          choices={choices(words.efforts)}
          onChange={(value) => change({ effort: value || null })}
        />
        <ChoiceField
          label={words.company}
          value={company ?? ''}
          choices={choices(words.companies)}
          onChange={(value) =>
            change({ company: value || null, ...(value !== 'accompanied' && { buddyName: '' }) })
          }
        />
        {company === 'accompanied' ? (
          <TextField
            label={words.buddy}
            most={80}
            value={details.buddyName}
            onChange={(buddyName) => change({ buddyName })}
          />
        ) : null}
        <TextField
          label={words.place}
          most={120}
          value={details.place}
          onChange={(place) => change({ place })}
        />
        <TagsField tags={details.tags} onChange={(tags) => change({ tags: [...tags] })} />
        <ChoiceField
          label={words.sleep}
          value={details.sleep ?? ''}
          choices={choices(words.sleeps)}
          onChange={(value) => change({ sleep: value || null })}
        />
        <ChoiceField
          label={words.food}
          value={details.food ?? ''}
          choices={choices(words.foods)}
          onChange={(value) => change({ food: value || null })}
        />
        <ChoiceField
          label={words.illness}
          value={illness ?? ''}
          choices={choices(words.illnesses)}
          onChange={(value) => change({ illness: value || null })}
        />
      </div>
      <label class="field">
        <span>{words.note}</span>
        <textarea
          maxLength={2000}
          value={details.note}
          onInput={(event) => change({ note: event.currentTarget.value })}
        />
      </label>
      {illness === 'ill' ? <p class="problem">{words.illCaution}</p> : null}
      {company === 'alone' && effort === 'hard' ? <p class="problem">{words.aloneCaution}</p> : null}
    </>
  );
}

interface TextFieldProps {
  readonly label: string;
  readonly most: number;
  readonly value: string;
  readonly onChange: (value: string) => void;
}

const TextField = ({ label, most, value, onChange }: TextFieldProps) => (
  <label class="field">
    <span>{label}</span>
    <input
      type="text"
      maxLength={most}
      value={value}
      onInput={(event) => onChange(event.currentTarget.value)}
    />
  </label>
);

/** Typed as one text: a comma that is being typed is no tag yet, and must not vanish. */
function TagsField(props: {
  readonly tags: readonly string[];
  readonly onChange: (tags: readonly string[]) => void;
}) {
  const { text } = useApp();
  const typed = useSignal<string | null>(null);
  const shown = typed.value ?? props.tags.join(', ');
  return (
    <TextField
      label={text.weeksMore.details.tags}
      most={480}
      value={tagsOf(shown).join() === props.tags.join() ? shown : props.tags.join(', ')}
      onChange={(value) => {
        typed.value = value;
        props.onChange(tagsOf(value));
      }}
    />
  );
}

const tagsOf = (typed: string): string[] =>
  typed
    .split(',')
    .map((tag) => tag.trim())
    .filter((tag) => tag !== '');
