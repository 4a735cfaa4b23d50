// The fields that only one kind of plan has, a component a kind.

import type { Plan, PlanKind, PlanOf } from '../../../shared/plan.ts';
import { lengthsOfPool } from '../../../shared/words/lengths.ts';
import { recogniseShape } from '../../../src/plans/generate-plan.ts';
import { useApp } from '../../app/app-context.ts';
import { ChoiceField } from '../../components/choice-field.tsx';
import { NumberStepper, TimeStepper } from '../../components/number-stepper.tsx';
import { LengthsField, PoolLengthField } from '../../components/pool-length-field.tsx';
import { Tick } from '../../components/tick.tsx';
import { LungsField } from './lungs-field.tsx';
import { PlanRows } from './plan-rows.tsx';

export interface KindFieldsProps<Kind extends PlanKind = PlanKind> {
  readonly plan: PlanOf<Kind>;
  readonly onChange: (plan: Plan) => void;
}

export function KindFields({ plan, onChange }: KindFieldsProps) {
  switch (plan.kind) {
    case 'intervalSeries':
      return <IntervalSeriesFields plan={plan} onChange={onChange} />;
    case 'holdTable':
      return <HoldTableFields plan={plan} onChange={onChange} />;
    case 'maximalAttempts':
      return <MaximalAttemptsFields plan={plan} onChange={onChange} />;
    case 'apneaWalk':
      return <ApneaWalkFields plan={plan} onChange={onChange} />;
    case 'freeSession':
      return <FreeSessionFields plan={plan} onChange={onChange} />;
    case 'poolIntervals':
      return <PoolIntervalsFields plan={plan} onChange={onChange} />;
    case 'timedSwim':
      return <TimedSwimFields plan={plan} onChange={onChange} />;
  }
}

function IntervalSeriesFields({ plan, onChange }: KindFieldsProps<'intervalSeries'>) {
  const { text } = useApp();
  const words = text.plans;
  return (
    <>
      <NumberStepper
        label={words.starts}
        unit="count"
        least={1}
        most={24}
        step={1}
        value={plan.starts}
        onChange={(starts) => onChange({ ...plan, starts })}
      />
      <TimeStepper
        label={words.every}
        least={60}
        most={900}
        step={15}
        value={plan.everySeconds}
        onChange={(everySeconds) => onChange({ ...plan, everySeconds })}
      />
      <CeilingFields
        ceilingSeconds={plan.ceilingSeconds}
        onChange={(ceilingSeconds) => onChange({ ...plan, ceilingSeconds })}
      />
      <LungsField
        label={text.lungs.label}
        lungs={plan.lungs}
        onChange={(lungs) => onChange({ ...plan, lungs })}
      />
    </>
  );
}

function HoldTableFields({ plan, onChange }: KindFieldsProps<'holdTable'>) {
  return (
    <PlanRows
      rows={plan.rows}
      least={1}
      most={24}
      onChange={(rows) => onChange({ ...plan, rows, shape: recogniseShape(rows) })}
    />
  );
}

function MaximalAttemptsFields({ plan, onChange }: KindFieldsProps<'maximalAttempts'>) {
  const { text } = useApp();
  const words = text.plans;
  return (
    <>
      <NumberStepper
        label={words.attempts}
        unit="count"
        least={1}
        most={2}
        step={1}
        value={plan.attempts}
        onChange={(attempts) => onChange({ ...plan, attempts })}
      />
      {plan.attempts > 1 ? (
        <TimeStepper
          label={words.betweenAttempts}
          least={60}
          most={1_800}
          step={30}
          value={plan.betweenAttemptsSeconds}
          onChange={(betweenAttemptsSeconds) => onChange({ ...plan, betweenAttemptsSeconds })}
        />
      ) : null}
      <LungsField
        label={text.lungs.ofMaximal}
        lungs={plan.lungs}
        onChange={(lungs) => onChange({ ...plan, lungs })}
      />
      <h3>{words.warmUps}</h3>
      <PlanRows
        rows={plan.warmUps}
        least={0}
        most={8}
        onChange={(warmUps) => onChange({ ...plan, warmUps })}
      />
    </>
  );
}

function ApneaWalkFields({ plan, onChange }: KindFieldsProps<'apneaWalk'>) {
  const { text } = useApp();
  const words = text.plans;
  const { bound } = plan;
  return (
    <>
      <NumberStepper
        label={words.rounds}
        unit="count"
        least={1}
        most={24}
        step={1}
        value={plan.rounds}
        onChange={(rounds) => onChange({ ...plan, rounds })}
      />
      {bound.by === 'time' ? (
        <TimeStepper
          label={words.walkTime}
          least={5}
          most={300}
          step={5}
          value={bound.ceilingSeconds}
          onChange={(ceilingSeconds) => onChange({ ...plan, bound: { ...bound, ceilingSeconds } })}
        />
      ) : (
        <NumberStepper
          label={words.walkSteps}
          unit={words.steps}
          least={5}
          most={300}
          step={5}
          value={bound.ceilingSteps}
          onChange={(ceilingSteps) => onChange({ ...plan, bound: { ...bound, ceilingSteps } })}
        />
      )}
      <TimeStepper
        label={words.still}
        least={0}
        most={120}
        step={5}
        value={plan.stillSeconds}
        onChange={(stillSeconds) => onChange({ ...plan, stillSeconds })}
      />
      <TimeStepper
        label={words.recovery}
        least={30}
        most={900}
        step={15}
        value={plan.recoverySeconds}
        onChange={(recoverySeconds) => onChange({ ...plan, recoverySeconds })}
      />
    </>
  );
}

function FreeSessionFields({ plan, onChange }: KindFieldsProps<'freeSession'>) {
  const { text } = useApp();
  return (
    <>
      <TimeStepper
        label={text.plans.length}
        least={600}
        most={10_800}
        step={300}
        value={plan.lengthSeconds}
        onChange={(lengthSeconds) => onChange({ ...plan, lengthSeconds })}
      />
      <CeilingFields
        ceilingSeconds={plan.ceilingSeconds}
        onChange={(ceilingSeconds) => onChange({ ...plan, ceilingSeconds })}
      />
    </>
  );
}

function PoolIntervalsFields({ plan, onChange }: KindFieldsProps<'poolIntervals'>) {
  const { text } = useApp();
  const words = text.plans;
  return (
    <>
      <NumberStepper
        label={words.repetitions}
        unit="count"
        least={1}
        most={40}
        step={1}
        value={plan.repetitions}
        onChange={(repetitions) => onChange({ ...plan, repetitions })}
      />
      <PoolLengthField
        meters={plan.poolLengthMeters}
        onChange={(poolLengthMeters) => {
          // As many lengths as before: in another pool a distance is another.
          const lengths = lengthsOfPool(plan.distanceMeters, plan.poolLengthMeters);
          const distanceMeters = Math.min(mostDistanceMeters, lengths * poolLengthMeters);
          onChange({ ...plan, poolLengthMeters, distanceMeters });
        }}
      />
      <LengthsField
        label={words.distance}
        distanceMeters={plan.distanceMeters}
        poolMeters={plan.poolLengthMeters}
        mostMeters={mostDistanceMeters}
        onChange={(distanceMeters) => onChange({ ...plan, distanceMeters })}
      />
      <TimeStepper
        label={words.every}
        least={30}
        most={900}
        step={15}
        value={plan.everySeconds}
        onChange={(everySeconds) => onChange({ ...plan, everySeconds })}
      />
      <ChoiceField
        label={words.breath}
        value={plan.breath}
        choices={[
          ['free', words.breathFree],
          ['one', words.breathOne],
        ]}
        onChange={(breath) => onChange({ ...plan, breath })}
      />
    </>
  );
}

function TimedSwimFields({ plan, onChange }: KindFieldsProps<'timedSwim'>) {
  const { text } = useApp();
  return (
    <>
      <TimeStepper
        label={text.plans.length}
        least={60}
        most={3_600}
        step={60}
        value={plan.lengthSeconds}
        onChange={(lengthSeconds) => onChange({ ...plan, lengthSeconds })}
      />
      <PoolLengthField
        meters={plan.poolLengthMeters}
        onChange={(poolLengthMeters) => onChange({ ...plan, poolLengthMeters })}
      />
    </>
  );
}

/** The most that a plan may have (shared/plan.ts). */
const mostDistanceMeters = 400;

interface CeilingFieldsProps {
  /** Null: the plan sets none. */
  readonly ceilingSeconds: number | null;
  readonly onChange: (ceilingSeconds: number | null) => void;
}

/** What a ceiling starts at where there was none. */
const firstCeilingSeconds = 120;

function CeilingFields({ ceilingSeconds, onChange }: CeilingFieldsProps) {
  const { text } = useApp();
  const words = text.plans;
  return (
    <>
      <Tick
        checked={ceilingSeconds === null}
        onChange={(isWithout) => onChange(isWithout ? null : firstCeilingSeconds)}
      >
        {words.noCeiling}
      </Tick>
      {ceilingSeconds === null ? null : (
        <TimeStepper
          label={words.ceiling}
          least={5}
          most={900}
          step={5}
          value={ceilingSeconds}
          onChange={onChange}
        />
      )}
    </>
  );
}
