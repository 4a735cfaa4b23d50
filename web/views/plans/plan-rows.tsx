// The rows of a plan, each with its hold, its recovery and the lungs; added and taken away at the end.

import type { PlanRow } from '../../../shared/plan.ts';
import { rowLimitsSeconds } from '../../../src/plans/change-rows.ts';
import { useApp } from '../../app/app-context.ts';
import { TimeStepper } from '../../components/number-stepper.tsx';
import { AllRows } from './all-rows.tsx';
import { LungsField } from './lungs-field.tsx';

/** What "add" adds to an empty table. */
const firstRow: PlanRow = { ceilingSeconds: 60, recoverySeconds: 120 };

export interface PlanRowsProps {
  readonly rows: readonly PlanRow[];
  readonly least: number;
  readonly most: number;
  readonly onChange: (rows: PlanRow[]) => void;
}

export function PlanRows({ rows, least, most, onChange }: PlanRowsProps) {
  const { text } = useApp();
  const words = text.plans;
  const change = (index: number, part: Partial<PlanRow>) =>
    onChange(rows.map((row, at) => (at === index ? { ...row, ...part } : row)));
  return (
    <details class="explain plan-rows">
      <summary>
        {words.details} ({rows.length})
      </summary>
      <AllRows rows={rows} onChange={onChange} />
      <ol>
        {rows.map((row, index) => (
          <li key={index}>
            <TimeStepper
              label={words.rowHold(index + 1)}
              {...rowLimitsSeconds.ceilingSeconds}
              step={5}
              value={row.ceilingSeconds}
              onChange={(ceilingSeconds) => change(index, { ceilingSeconds })}
            />
            <TimeStepper
              label={words.rowRecovery(index + 1)}
              {...rowLimitsSeconds.recoverySeconds}
              step={5}
              value={row.recoverySeconds}
              onChange={(recoverySeconds) => change(index, { recoverySeconds })}
            />
            <LungsField
              label={text.lungs.ofRow(index + 1)}
              lungs={row.lungs}
              onChange={(lungs) => change(index, { lungs })}
            />
          </li>
        ))}
      </ol>
      <div class="button-row">
        <button
          type="button"
          class="button"
          disabled={rows.length >= most}
          onClick={() => onChange([...rows, rows.at(-1) ?? firstRow])}
        >
          {words.addRow}
        </button>
        <button
          type="button"
          class="button"
          disabled={rows.length <= least}
          onClick={() => onChange(rows.slice(0, -1))}
        >
          {words.removeRow}
        </button>
      </div>
    </details>
  );
}
