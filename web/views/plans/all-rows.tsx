// Every row of a table changed at once: each hold or each recovery by some seconds, or all set to one length.

import { useSignal } from '@preact/signals';
import type { PlanRow } from '../../../shared/plan.ts';
import { type RowPart, setRows, shiftRows } from '../../../src/plans/change-rows.ts';
import { useApp } from '../../app/app-context.ts';
import { readSeconds } from '../../state/typed-number.ts';

const shiftsSeconds = [-5, -1, 1, 5];

export interface AllRowsProps {
  readonly rows: readonly PlanRow[];
  readonly onChange: (rows: PlanRow[]) => void;
}

export function AllRows({ rows, onChange }: AllRowsProps) {
  const { text } = useApp();
  const words = text.plans.allRows;
  if (rows.length < 2) return null;
  return (
    <fieldset class="all-rows">
      <legend>{words.title}</legend>
      <OfPart part="ceilingSeconds" label={words.holds} rows={rows} onChange={onChange} />
      <OfPart part="recoverySeconds" label={words.recoveries} rows={rows} onChange={onChange} />
    </fieldset>
  );
}

function OfPart(props: AllRowsProps & { readonly part: RowPart; readonly label: string }) {
  const { text } = useApp();
  const words = text.plans;
  const { part, label, rows, onChange } = props;
  const typed = useSignal('');
  const isWrong = useSignal(false);
  const set = () => {
    const seconds = readSeconds(typed.value);
    isWrong.value = seconds === undefined;
    if (seconds === undefined) return;
    onChange(setRows(rows, part, seconds));
    typed.value = '';
  };
  return (
    <div class="all-rows-part">
      <span>{label}</span>
      <span class="all-rows-shifts">
        {shiftsSeconds.map((by) => {
          const amount = `${Math.abs(by)}\u202fs`;
          return (
            <button
              key={by}
              type="button"
              class="button stepper-button"
              aria-label={`${label}: ${by < 0 ? words.lessBy(amount) : words.moreBy(amount)}`}
              onClick={() => onChange(shiftRows(rows, part, by))}
            >
              {by < 0 ? '\u2212' : '+'}
              {Math.abs(by)}
            </button>
          );
        })}
      </span>
      <span class="all-rows-set">
        <input
          type="text"
          autocomplete="off"
          placeholder="1:00"
          aria-label={`${label}: ${words.allRows.setTo}`}
          aria-invalid={isWrong.value}
          value={typed.value}
          onInput={(event) => (typed.value = event.currentTarget.value)}
          onKeyDown={(event) => {
            if (event.key !== 'Enter') return;
            event.preventDefault();
            set();
          }}
        />
        <button type="button" class="button" aria-label={`${label}: ${words.allRows.set}`} onClick={set}>
          {words.allRows.set}
        </button>
      </span>
      {isWrong.value ? (
        <p class="problem" role="alert">
          {words.allRows.notATime}
        </p>
      ) : null}
    </div>
  );
}
