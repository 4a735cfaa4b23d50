// The fields that only one kind of training entry has, a component a kind.

import type { TrainingEntry, TrainingEntryKind } from '../../../shared/training-log.ts';
import { lengthsOfPool } from '../../../shared/words/lengths.ts';
import { useApp } from '../../app/app-context.ts';
import { ChoiceField } from '../../components/choice-field.tsx';
import { NumberStepper, TimeStepper } from '../../components/number-stepper.tsx';
import { LengthsField, PoolLengthField } from '../../components/pool-length-field.tsx';
import { Tick } from '../../components/tick.tsx';
import { entrySummary } from './entry-summary.ts';

/** The most that an entry may have (shared/training-log.ts). */
const mostDistanceMeters = 400;

type EntryOf<Kind extends TrainingEntryKind> = Extract<TrainingEntry, { kind: Kind }>;

export interface EntryFieldsProps<Kind extends TrainingEntryKind = TrainingEntryKind> {
  readonly entry: EntryOf<Kind>;
  readonly onChange: (entry: TrainingEntry) => void;
}

export function EntryFields({ entry, onChange }: EntryFieldsProps) {
  switch (entry.kind) {
    case 'poolSet':
      return <PoolSetFields entry={entry} onChange={onChange} />;
    case 'timedSwim':
      return <TimedSwimFields entry={entry} onChange={onChange} />;
    case 'apneaWalk':
      return <ApneaWalkFields entry={entry} onChange={onChange} />;
    case 'maximalDryHold':
      return <HoldLengthField entry={entry} onChange={onChange} />;
    case 'maximalInWater':
      return <MaximalInWaterFields entry={entry} onChange={onChange} />;
  }
}

function PoolSetFields({ entry, onChange }: EntryFieldsProps<'poolSet'>) {
  const { plans } = useApp().text;
  return (
    <>
      <NumberStepper
        label={plans.repetitions}
        unit="count"
        least={1}
        most={60}
        step={1}
        value={entry.repetitions}
        onChange={(repetitions) => onChange({ ...entry, repetitions })}
      />
      <PoolLengthField
        meters={entry.poolLengthMeters}
        onChange={(poolLengthMeters) => {
          const lengths = lengthsOfPool(entry.distanceMeters, entry.poolLengthMeters);
          const distanceMeters = Math.min(mostDistanceMeters, lengths * poolLengthMeters);
          onChange({ ...entry, poolLengthMeters, distanceMeters });
        }}
      />
      <LengthsField
        label={plans.distance}
        distanceMeters={entry.distanceMeters}
        poolMeters={entry.poolLengthMeters}
        mostMeters={mostDistanceMeters}
        onChange={(distanceMeters) => onChange({ ...entry, distanceMeters })}
      />
      <TimeStepper
        label={plans.every}
        least={20}
        most={900}
        step={5}
        value={entry.everySeconds}
        onChange={(everySeconds) => onChange({ ...entry, everySeconds })}
      />
      <ChoiceField
        label={plans.breath}
        value={entry.breath}
        choices={[
          ['free', plans.breathFree],
          ['one', plans.breathOne],
        ]}
        onChange={(breath) => onChange({ ...entry, breath })}
      />
    </>
  );
}

function TimedSwimFields({ entry, onChange }: EntryFieldsProps<'timedSwim'>) {
  const words = useApp().text.plans.training;
  return (
    <>
      <PoolLengthField
        meters={entry.poolLengthMeters}
        onChange={(poolLengthMeters) => onChange({ ...entry, poolLengthMeters })}
      />
      <NumberStepper
        label={words.laps}
        unit="count"
        least={0}
        most={100}
        step={1}
        value={entry.laps}
        onChange={(laps) => onChange({ ...entry, laps })}
      />
      <NumberStepper
        label={words.further}
        unit="m"
        least={0}
        most={50}
        step={5}
        finest={1}
        value={entry.furtherMeters}
        onChange={(furtherMeters) => onChange({ ...entry, furtherMeters })}
      />
      <p>{entrySummary(entry, words)}</p>
    </>
  );
}

function ApneaWalkFields({ entry, onChange }: EntryFieldsProps<'apneaWalk'>) {
  const { plans, history } = useApp().text;
  return (
    <>
      <NumberStepper
        label={plans.rounds}
        unit="count"
        least={1}
        most={24}
        step={1}
        value={entry.rounds}
        onChange={(rounds) => onChange({ ...entry, rounds })}
      />
      <TimeStepper
        label={plans.walkTime}
        least={0}
        most={300}
        step={5}
        value={entry.lengthSeconds ?? 0}
        onChange={(lengthSeconds) => onChange({ ...entry, lengthSeconds })}
      />
      <label class="field">
        <span>{history.timer.steps}</span>
        <input
          type="number"
          min={1}
          max={2000}
          placeholder={history.timer.stepsUnknown}
          value={entry.steps ?? ''}
          onInput={(event) => {
            const steps = Math.round(Number(event.currentTarget.value));
            onChange({ ...entry, steps: steps >= 1 && steps <= 2_000 ? steps : null });
          }}
        />
      </label>
      <Tick checked={entry.maximal} onChange={(maximal) => onChange({ ...entry, maximal })}>
        {plans.training.maximal}
      </Tick>
    </>
  );
}

function MaximalInWaterFields({ entry, onChange }: EntryFieldsProps<'maximalInWater'>) {
  const { plans } = useApp().text;
  const words = plans.training;
  return (
    <>
      <ChoiceField
        label={words.discipline}
        value={entry.discipline}
        choices={[
          ['distance', words.disciplines.distance],
          ['static', words.disciplines.static],
        ]}
        onChange={(discipline) =>
          onChange({
            ...entry,
            discipline,
            lengthSeconds: discipline === 'static' ? 120 : null,
            distanceMeters: discipline === 'static' ? null : 25,
          })
        }
      />
      {entry.distanceMeters === null ? (
        <HoldLengthField entry={entry} onChange={onChange} />
      ) : (
        <NumberStepper
          label={plans.distance}
          unit="m"
          least={5}
          most={300}
          step={5}
          value={entry.distanceMeters}
          onChange={(distanceMeters) => onChange({ ...entry, distanceMeters })}
        />
      )}
    </>
  );
}

function HoldLengthField({ entry, onChange }: EntryFieldsProps<'maximalDryHold' | 'maximalInWater'>) {
  return (
    <TimeStepper
      label={useApp().text.plans.length}
      least={10}
      most={900}
      step={5}
      value={entry.lengthSeconds ?? 0}
      onChange={(lengthSeconds) => onChange({ ...entry, lengthSeconds })}
    />
  );
}
