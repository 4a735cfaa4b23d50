// How long the pool is: the lengths that pools have, in metres and yards, or any other, typed.

import { useSignal } from '@preact/signals';
import { type LengthUnit, metersOfLength, unitOfLength } from '../../shared/words/lengths.ts';
import { useApp } from '../app/app-context.ts';
import { formatLength } from '../state/format.ts';
import { readNumber } from '../state/typed-number.ts';
import { ChoiceField } from './choice-field.tsx';

/** Lengths that pools are built with; common practice, no source. */
const common: readonly (readonly [count: number, unit: LengthUnit])[] = [
  [10, 'm'],
  [12.5, 'm'],
  [15, 'm'],
  [50 / 3, 'm'],
  [20, 'm'],
  [25, 'm'],
  [100 / 3, 'm'],
  [50, 'm'],
  [20, 'yd'],
  [25, 'yd'],
  [100 / 3, 'yd'],
  [50, 'yd'],
];
const commonMeters = common.map(([count, unit]) => metersOfLength(count, unit));
/** As the plans and the log have it (shared/plan.ts). */
const leastMeters = 5;
const mostMeters = 100;

export interface PoolLengthFieldProps {
  readonly meters: number;
  readonly onChange: (meters: number) => void;
}

export function PoolLengthField({ meters, onChange }: PoolLengthFieldProps) {
  const { text } = useApp();
  const words = text.plans.pool;
  const known = commonMeters.findIndex((each) => Math.abs(each - meters) < 1e-4);
  const isOther = useSignal(known === -1);
  return (
    <>
      <ChoiceField
        label={text.plans.poolLength}
        value={isOther.value ? 'other' : String(known)}
        choices={[
          ...commonMeters.map((each, index): [string, string] => [String(index), formatLength(each)]),
          ['other', words.other],
        ]}
        onChange={(chosen) => {
          const length = commonMeters[Number(chosen)];
          isOther.value = length === undefined;
          if (length !== undefined) onChange(length);
        }}
      />
      {isOther.value ? <OtherLength meters={meters} onChange={onChange} /> : null}
    </>
  );
}

function OtherLength({ meters, onChange }: PoolLengthFieldProps) {
  const { text } = useApp();
  const words = text.plans.pool;
  const unit = useSignal<LengthUnit>(unitOfLength(meters));
  const typed = useSignal('');
  const isWrong = useSignal(false);
  const take = () => {
    if (typed.value.trim() === '') return;
    const count = readNumber(typed.value);
    const length = count === undefined ? Number.NaN : metersOfLength(count, unit.value);
    isWrong.value = !(length >= leastMeters && length <= mostMeters);
    if (!isWrong.value) onChange(length);
  };
  return (
    <div class="other-length">
      <label class="field">
        <span>{words.otherLength}</span>
        <input
          type="text"
          autocomplete="off"
          placeholder={formatLength(meters)}
          aria-invalid={isWrong.value}
          value={typed.value}
          onInput={(event) => {
            typed.value = event.currentTarget.value;
            take();
          }}
        />
      </label>
      <ChoiceField
        label={words.unit}
        value={unit.value}
        choices={[
          ['m', words.metres],
          ['yd', words.yards],
        ]}
        onChange={(chosen) => {
          unit.value = chosen;
          take();
        }}
      />
      {isWrong.value ? (
        <p class="problem" role="alert">
          {words.outside(formatLength(leastMeters), formatLength(mostMeters))}
        </p>
      ) : null}
    </div>
  );
}

export interface LengthsFieldProps {
  readonly label: string;
  readonly distanceMeters: number;
  readonly poolMeters: number;
  readonly mostMeters: number;
  readonly onChange: (distanceMeters: number) => void;
}

/** A distance as so many lengths of the pool. */
export function LengthsField({ label, distanceMeters, poolMeters, mostMeters, onChange }: LengthsFieldProps) {
  const { text } = useApp();
  const lengths = distanceMeters / poolMeters;
  const most = Math.max(1, Math.floor(mostMeters / poolMeters + 1e-6));
  return (
    <div class="lengths-field">
      <ChoiceField
        label={label}
        value={String(nearestOf(lengths, most))}
        choices={[
          ...(isWhole(lengths)
            ? []
            : [[String(nearestOf(lengths, most)), formatLength(distanceMeters)] as [string, string]]),
          ...Array.from({ length: most }, (_, index): [string, string] => [
            `${index + 1}`,
            text.plans.pool.lengths(index + 1, formatLength((index + 1) * poolMeters)),
          ]),
        ]}
        onChange={(chosen) => {
          if (Number.isInteger(Number(chosen))) onChange(Number(chosen) * poolMeters);
        }}
      />
    </div>
  );
}

const isWhole = (count: number): boolean => Math.abs(count - Math.round(count)) < 1e-6;
/** A distance that is no whole number of lengths has a place of its own in the list. */
const nearestOf = (lengths: number, most: number): number =>
  isWhole(lengths) ? Math.min(most, Math.max(1, Math.round(lengths))) : lengths;
