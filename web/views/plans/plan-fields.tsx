// The fields of a plan by its kind: steppers and sliders, each change a new plan.

import type { Plan, PlanRow } from '../../../shared/plan.ts';
import type { HoldLungs } from '../../../shared/schema-parts.ts';
import { holdLungs } from '../../../src/oxygen/lung-states.ts';
import { recogniseShape } from '../../../src/plans/generate-plan.ts';
import { explainMinimumRecovery } from '../../../src/plans/minimum-recovery.ts';
import { useApp } from '../../shell/app-context.ts';
import { NumberStepper } from './number-stepper.tsx';

export interface PlanFieldsProps {
  readonly plan: Plan;
  readonly onChange: (plan: Plan) => void;
}

export function PlanFields({ plan, onChange }: PlanFieldsProps) {
  const { text } = useApp();
  const words = text.plans;
  return (
    <div class="plan-fields">
      <KindFields plan={plan} onChange={onChange} />
      <NumberStepper
        label={words.leadIn}
        unit="time"
        least={10}
        most={600}
        step={10}
        value={plan.leadInSeconds}
        onChange={(leadInSeconds) => onChange({ ...plan, leadInSeconds })}
      />
      <details class="explain">
        <summary>{words.minimumRecovery}</summary>
        <p>{explainMinimumRecovery(plan)}</p>
      </details>
    </div>
  );
}

function KindFields({ plan, onChange }: PlanFieldsProps) {
  const { text } = useApp();
  const words = text.plans;
  const time = (
    label: string,
    value: number,
    least: number,
    most: number,
    step: number,
    set: (seconds: number) => void,
  ) => (
    <NumberStepper
      label={label}
      unit="time"
      value={value}
      least={least}
      most={most}
      step={step}
      onChange={set}
    />
  );
  const count = (
    label: string,
    value: number,
    least: number,
    most: number,
    set: (value: number) => void,
    step = 1,
    unit = 'count',
  ) => (
    <NumberStepper
      label={label}
      unit={unit}
      value={value}
      least={least}
      most={most}
      step={step}
      onChange={set}
    />
  );
  const ceiling = (seconds: number | null, set: (seconds: number | null) => void) => (
    <>
      <label class="tick">
        <input
          type="checkbox"
          checked={seconds === null}
          onChange={() => set(seconds === null ? 120 : null)}
        />
        <span>{words.noCeiling}</span>
      </label>
      {seconds === null ? null : time(words.ceiling, seconds, 5, 900, 5, set)}
    </>
  );
  switch (plan.kind) {
    case 'intervalSeries':
      return (
        <>
          {count(words.starts, plan.starts, 1, 24, (starts) => onChange({ ...plan, starts }))}
          {time(words.every, plan.everySeconds, 60, 900, 15, (everySeconds) =>
            onChange({ ...plan, everySeconds }),
          )}
          {ceiling(plan.ceilingSeconds, (ceilingSeconds) => onChange({ ...plan, ceilingSeconds }))}
          <LungsField
            label={text.lungs.label}
            lungs={plan.lungs}
            onChange={(lungs) => onChange({ ...plan, lungs })}
          />
        </>
      );
    case 'holdTable':
      return (
        <Rows
          rows={plan.rows}
          onChange={(rows) => onChange({ ...plan, rows: [...rows], shape: recogniseShape(rows) })}
        />
      );
    case 'maximalAttempts':
      return (
        <>
          {count(words.attempts, plan.attempts, 1, 2, (attempts) => onChange({ ...plan, attempts }))}
          {plan.attempts > 1
            ? time(
                words.betweenAttempts,
                plan.betweenAttemptsSeconds,
                60,
                1_800,
                30,
                (betweenAttemptsSeconds) => onChange({ ...plan, betweenAttemptsSeconds }),
              )
            : null}
          <LungsField
            label={text.lungs.ofMaximal}
            lungs={plan.lungs}
            onChange={(lungs) => onChange({ ...plan, lungs })}
          />
          <h3>{words.warmUps}</h3>
          <Rows
            rows={plan.warmUps}
            least={0}
            onChange={(rows) => onChange({ ...plan, warmUps: [...rows] })}
          />
        </>
      );
    case 'apneaWalk': {
      const { bound } = plan;
      return (
        <>
          {count(words.rounds, plan.rounds, 1, 24, (rounds) => onChange({ ...plan, rounds }))}
          {bound.by === 'time'
            ? time(words.walkTime, bound.ceilingSeconds, 5, 300, 5, (ceilingSeconds) =>
                onChange({ ...plan, bound: { ...bound, ceilingSeconds } }),
              )
            : count(
                words.walkSteps,
                bound.ceilingSteps,
                5,
                300,
                (ceilingSteps) => onChange({ ...plan, bound: { ...bound, ceilingSteps } }),
                5,
                words.steps,
              )}
          {time(words.still, plan.stillSeconds, 0, 120, 5, (stillSeconds) =>
            onChange({ ...plan, stillSeconds }),
          )}
          {time(words.recovery, plan.recoverySeconds, 30, 900, 15, (recoverySeconds) =>
            onChange({ ...plan, recoverySeconds }),
          )}
        </>
      );
    }
    case 'freeSession':
      return (
        <>
          {time(words.length, plan.lengthSeconds, 600, 10_800, 300, (lengthSeconds) =>
            onChange({ ...plan, lengthSeconds }),
          )}
          {ceiling(plan.ceilingSeconds, (ceilingSeconds) => onChange({ ...plan, ceilingSeconds }))}
        </>
      );
    case 'poolIntervals':
      return (
        <>
          {count(words.repetitions, plan.repetitions, 1, 40, (repetitions) =>
            onChange({ ...plan, repetitions }),
          )}
          {count(
            words.distance,
            plan.distanceMeters,
            25,
            400,
            (distanceMeters) => onChange({ ...plan, distanceMeters }),
            25,
            words.metres,
          )}
          {count(
            words.poolLength,
            plan.poolLengthMeters,
            10,
            50,
            (poolLengthMeters) => onChange({ ...plan, poolLengthMeters }),
            5,
            words.metres,
          )}
          {time(words.every, plan.everySeconds, 30, 900, 15, (everySeconds) =>
            onChange({ ...plan, everySeconds }),
          )}
          <label class="field">
            <span>{words.breath}</span>
            <select
              value={plan.breath}
              onChange={(event) =>
                onChange({ ...plan, breath: event.currentTarget.value === 'one' ? 'one' : 'free' })
              }
            >
              <option value="free">{words.breathFree}</option>
              <option value="one">{words.breathOne}</option>
            </select>
          </label>
        </>
      );
    case 'timedSwim':
      return (
        <>
          {time(words.length, plan.lengthSeconds, 60, 3_600, 60, (lengthSeconds) =>
            onChange({ ...plan, lengthSeconds }),
          )}
          {count(
            words.poolLength,
            plan.poolLengthMeters,
            10,
            50,
            (poolLengthMeters) => onChange({ ...plan, poolLengthMeters }),
            5,
            words.metres,
          )}
        </>
      );
  }
}

function LungsField({
  label,
  lungs,
  onChange,
}: {
  readonly label: string;
  readonly lungs: HoldLungs | undefined;
  readonly onChange: (lungs: HoldLungs | undefined) => void;
}) {
  const { text } = useApp();
  return (
    <label class="field">
      <span>{label}</span>
      <select
        value={lungs ?? ''}
        onChange={(event) => {
          const { value } = event.currentTarget;
          onChange(holdLungs.find((state) => state === value));
        }}
      >
        <option value="">{text.lungs.unsaid}</option>
        {holdLungs.map((state) => (
          <option key={state} value={state}>
            {text.lungs.choice[state]}
          </option>
        ))}
      </select>
    </label>
  );
}

function Rows({
  rows,
  least = 1,
  onChange,
}: {
  readonly rows: readonly PlanRow[];
  readonly least?: number;
  readonly onChange: (rows: readonly PlanRow[]) => void;
}) {
  const { text } = useApp();
  const words = text.plans;
  const change = (index: number, part: Partial<PlanRow>) =>
    onChange(rows.map((row, at) => (at === index ? { ...row, ...part } : row)));
  return (
    <details class="explain plan-rows">
      <summary>
        {words.details} ({rows.length})
      </summary>
      <ol>
        {rows.map((row, index) => (
          <li key={index}>
            <NumberStepper
              label={words.rowHold(index + 1)}
              unit="time"
              least={5}
              most={600}
              step={5}
              value={row.ceilingSeconds}
              onChange={(ceilingSeconds) => change(index, { ceilingSeconds })}
            />
            <NumberStepper
              label={words.rowRecovery(index + 1)}
              unit="time"
              least={0}
              most={600}
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
          disabled={rows.length >= (least === 0 ? 8 : 24)}
          onClick={() => onChange([...rows, rows.at(-1) ?? { ceilingSeconds: 60, recoverySeconds: 120 }])}
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
