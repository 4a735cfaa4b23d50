// Which athlete: a list of names to choose from.

import type { Athlete } from '../../shared/views.ts';

export interface AthleteFieldProps {
  readonly label: string;
  /** Said to those who hear the page only: what stands round the list says it to others. */
  readonly labelHidden?: boolean;
  readonly athletes: readonly Pick<Athlete, 'athleteId' | 'name'>[];
  /** '' where nobody is chosen. */
  readonly athleteId: string;
  /** Words for choosing nobody; absent where somebody must be chosen. */
  readonly nobody?: string;
  readonly disabled?: boolean;
  readonly narrow?: boolean;
  readonly onChange: (athleteId: string) => void;
}

export function AthleteField({
  label,
  labelHidden = false,
  athletes,
  athleteId,
  nobody,
  disabled = false,
  narrow = false,
  onChange,
}: AthleteFieldProps) {
  return (
    <label class={narrow ? 'field field--narrow' : 'field'}>
      <span class={labelHidden ? 'visually-hidden' : undefined}>{label}</span>
      <select value={athleteId} disabled={disabled} onChange={(event) => onChange(event.currentTarget.value)}>
        {nobody === undefined ? null : <option value="">{nobody}</option>}
        {athletes.map((athlete) => (
          <option key={athlete.athleteId} value={athlete.athleteId}>
            {athlete.name}
          </option>
        ))}
      </select>
    </label>
  );
}
