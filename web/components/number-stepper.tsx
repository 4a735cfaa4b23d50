// A number with a smaller and a larger button: quick with a thumb, exact with a keyboard.

import { useId } from 'preact/hooks';
import { clockText } from '../../shared/words/formats.ts';
import { useApp } from '../app/app-context.ts';
import './number-stepper.css';

export interface NumberStepperProps {
  readonly label: string;
  readonly value: number;
  readonly least: number;
  readonly most: number;
  readonly step: number;
  /** `time`: seconds, shown as minutes and seconds. */
  readonly unit: 'time' | 'count' | string;
  readonly onChange: (value: number) => void;
}

export function TimeStepper(props: Omit<NumberStepperProps, 'unit'>) {
  return <NumberStepper {...props} unit="time" />;
}

export function NumberStepper({ label, value, least, most, step, unit, onChange }: NumberStepperProps) {
  const { text } = useApp();
  const id = useId();
  const words = text.plans;
  const set = (next: number) => {
    if (Number.isFinite(next)) onChange(Math.min(most, Math.max(least, next)));
  };
  const shown =
    unit === 'time'
      ? `${clockText(value * 1_000)}\u202fmin`
      : unit === 'count'
        ? String(value)
        : `${value}\u202f${unit}`;
  return (
    <div class="number-stepper">
      <label for={id}>{label}</label>
      <button
        type="button"
        class="button stepper-button"
        aria-label={`${label}: ${words.less}`}
        disabled={value <= least}
        onClick={() => set(value - step)}
      >
        {'\u2212'}
      </button>
      <input
        id={id}
        type="range"
        min={least}
        max={most}
        step={step}
        value={value}
        aria-valuetext={shown}
        onInput={(event) => set(Number(event.currentTarget.value))}
      />
      <button
        type="button"
        class="button stepper-button"
        aria-label={`${label}: ${words.more}`}
        disabled={value >= most}
        onClick={() => set(value + step)}
      >
        +
      </button>
      <output for={id} class="number-stepper-value">
        {shown}
      </output>
    </div>
  );
}
