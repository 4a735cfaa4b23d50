// A number to the last unit: typed, by buttons that go on while they are held, or dragged in larger steps. Keys move the
// slider by the smallest step.

import { useSignal } from '@preact/signals';
import { useId, useLayoutEffect, useRef } from 'preact/hooks';
import { clockText } from '../../shared/words/formats.ts';
import { useApp } from '../app/app-context.ts';
import { readNumber, readSeconds } from '../state/typed-number.ts';
import './number-stepper.css';

export interface NumberStepperProps {
  readonly label: string;
  readonly value: number;
  readonly least: number;
  readonly most: number;
  /** Of the slider when it is dragged, and of the outer buttons where it is more than `finest`. */
  readonly step: number;
  /** Of the inner buttons and of keys; `step` when left out. */
  readonly finest?: number;
  /** `time`: seconds, shown as minutes and seconds. */
  readonly unit: 'time' | 'count' | string;
  readonly onChange: (value: number) => void;
}

/** To the second. */
export function TimeStepper(props: Omit<NumberStepperProps, 'unit' | 'finest'>) {
  return <NumberStepper {...props} unit="time" finest={1} />;
}

export function NumberStepper(props: NumberStepperProps) {
  const { label, value, least, most, step, finest = step, unit, onChange } = props;
  const id = useId();
  const dragging = useRef(false);
  const set = (next: number) => {
    if (Number.isFinite(next)) onChange(Math.min(most, Math.max(least, next)));
  };
  const shown =
    unit === 'time'
      ? `${clockText(value * 1_000)}\u202fmin`
      : unit === 'count'
        ? String(value)
        : `${value}\u202f${unit}`;
  const button = (by: number) => <StepButton {...props} by={by} set={set} />;
  return (
    <div class={finest < step ? 'number-stepper number-stepper--fine' : 'number-stepper'}>
      <label for={id}>{label}</label>
      {finest < step ? button(-step) : null}
      {button(-finest)}
      <input
        id={id}
        type="range"
        min={least}
        max={most}
        step={finest}
        value={value}
        aria-valuetext={shown}
        onPointerDown={() => (dragging.current = true)}
        onPointerUp={() => (dragging.current = false)}
        onPointerCancel={() => (dragging.current = false)}
        onInput={(event) => {
          const to = Number(event.currentTarget.value);
          set(dragging.current ? Math.round(to / step) * step : to);
        }}
      />
      {button(finest)}
      {finest < step ? button(step) : null}
      <TypedNumber {...props} set={set} />
    </div>
  );
}

interface StepButtonProps extends NumberStepperProps {
  readonly by: number;
  readonly set: (value: number) => void;
}

/** How long a button is held before it goes on by itself, and how fast it then goes. Our choice. */
const holdMs = 450;
const againMs = 110;

function StepButton({ label, value, least, most, step, finest = step, unit, by, set }: StepButtonProps) {
  const { text, timers } = useApp();
  const words = text.plans;
  const now = useRef(value);
  now.current = value;
  const stop = useRef<() => void>(() => undefined);
  // Before the paint: a button that is gone, or at its end, steps on no more.
  useLayoutEffect(() => () => stop.current(), []);
  const isAtEnd = by < 0 ? value <= least : value >= most;
  useLayoutEffect(() => {
    if (isAtEnd) stop.current();
  }, [isAtEnd]);
  const heldOn = useRef(false);
  const begin = () => {
    heldOn.current = false;
    const endWait = timers.after(holdMs, () => {
      heldOn.current = true;
      stop.current = timers.every(againMs, () => set(now.current + by));
    });
    stop.current = endWait;
  };
  const size = Math.abs(by);
  const isOnly = finest === step;
  const amount = unit === 'time' ? `${size}\u202fs` : String(size);
  const name = isOnly
    ? by < 0
      ? words.less
      : words.more
    : by < 0
      ? words.lessBy(amount)
      : words.moreBy(amount);
  const sign = by < 0 ? '\u2212' : '+';
  return (
    <button
      type="button"
      class="button stepper-button"
      aria-label={`${label}: ${name}`}
      disabled={isAtEnd}
      onPointerDown={begin}
      onPointerUp={() => stop.current()}
      onPointerLeave={() => stop.current()}
      onPointerCancel={() => stop.current()}
      onContextMenu={(event) => event.preventDefault()}
      onClick={() => {
        // The click that ends a long press is no step of its own.
        if (!heldOn.current) set(value + by);
        heldOn.current = false;
      }}
    >
      {isOnly ? sign : `${sign}${size}`}
    </button>
  );
}

function TypedNumber({
  label,
  value,
  unit,
  finest,
  step,
  set,
}: NumberStepperProps & { readonly set: (value: number) => void }) {
  const { text } = useApp();
  /** Null while nothing is being typed. */
  const typed = useSignal<string | null>(null);
  const shown = unit === 'time' ? clockText(value * 1_000) : String(value);
  const take = () => {
    const read =
      typed.value === null ? undefined : unit === 'time' ? readSeconds(typed.value) : readNumber(typed.value);
    typed.value = null;
    const smallest = finest ?? step;
    if (read !== undefined) set(Math.round(read / smallest) * smallest);
  };
  return (
    <span class="number-stepper-value">
      <input
        type="text"
        inputMode={unit === 'time' ? 'text' : 'decimal'}
        autocomplete="off"
        aria-label={text.plans.typed(label)}
        value={typed.value ?? shown}
        onFocus={(event) => event.currentTarget.select()}
        onInput={(event) => (typed.value = event.currentTarget.value)}
        onBlur={take}
        onKeyDown={(event) => {
          if (event.key === 'Enter') {
            event.preventDefault();
            take();
          } else if (event.key === 'Escape') typed.value = null;
        }}
      />
      {unit === 'count' ? null : <small>{unit === 'time' ? 'min' : unit}</small>}
    </span>
  );
}
