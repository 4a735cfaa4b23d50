// How full the lungs are at the start of a hold, or that the plan does not say.

import type { HoldLungs } from '../../../shared/schema-parts.ts';
import { holdLungs } from '../../../src/oxygen/lung-states.ts';
import { useApp } from '../../app/app-context.ts';
import { type Choice, ChoiceField } from '../../components/choice-field.tsx';

export interface LungsFieldProps {
  readonly label: string;
  readonly lungs: HoldLungs | undefined;
  readonly onChange: (lungs: HoldLungs | undefined) => void;
}

export function LungsField({ label, lungs, onChange }: LungsFieldProps) {
  const { text } = useApp();
  const states = holdLungs.map((state): Choice<HoldLungs> => [state, text.lungs.choice[state]]);
  return (
    <ChoiceField<HoldLungs | ''>
      label={label}
      value={lungs ?? ''}
      choices={[['', text.lungs.unsaid], ...states]}
      onChange={(chosen) => onChange(chosen === '' ? undefined : chosen)}
    />
  );
}
