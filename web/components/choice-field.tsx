// One of a few values, each with its words: a list to choose from, whose answer is always one of those offered.

export type Choice<Value extends string> = readonly [value: Value, words: string];

export interface ChoiceFieldProps<Value extends string> {
  readonly label: string;
  readonly value: Value;
  readonly choices: readonly Choice<Value>[];
  readonly onChange: (value: Value) => void;
  readonly required?: boolean;
}

export function ChoiceField<Value extends string>({
  label,
  value,
  choices,
  onChange,
  required = false,
}: ChoiceFieldProps<Value>) {
  return (
    <label class="field">
      <span>{label}</span>
      <select
        value={value}
        required={required}
        onChange={(event) => {
          const chosen = chosenOf(choices, event.currentTarget.value);
          if (chosen !== undefined) onChange(chosen);
        }}
      >
        {choices.map(([each, words]) => (
          <option key={each} value={each}>
            {words}
          </option>
        ))}
      </select>
    </label>
  );
}

/** The value of a list that a text from the browser names; undefined where it names none. */
export function chosenOf<Value extends string>(
  choices: readonly Choice<Value>[],
  given: string,
): Value | undefined {
  return choices.find(([value]) => value === given)?.[0];
}
