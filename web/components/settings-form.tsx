// An athlete's floor and limits as a form: steps big enough for a thumb, each limit can be off.

import { useSignal } from '@preact/signals';
import { useId } from 'preact/hooks';
import { floorRangePercent } from '../../shared/schema-parts.ts';
import { type Percent, percent } from '../../shared/units.ts';
import type { AthleteSettings } from '../../shared/views.ts';
import { useApp } from '../app/app-context.ts';
import { ChoiceField } from './choice-field.tsx';
import { useTyped } from './use-typed.ts';
import './settings-form.css';

export interface SettingsFormProps {
  readonly settings: AthleteSettings;
  readonly onChange: (settings: AthleteSettings) => void;
}

export function SettingsForm({ settings, onChange }: SettingsFormProps) {
  const { text } = useApp();
  const words = text.settings;
  const change = (part: Partial<AthleteSettings>) => onChange({ ...settings, ...part });
  return (
    <div class="settings">
      <FloorStepper
        label={text.setup.floor}
        floor={settings.floorSpo2Percent}
        onChange={(floorSpo2Percent) => change({ floorSpo2Percent })}
      />
      <Thresholds
        thresholdsPercent={settings.thresholdsPercent}
        onChange={(thresholdsPercent) => change({ thresholdsPercent })}
      />
      <OptionalNumber
        label={words.heartRateLow}
        unit={text.unitBpm}
        value={settings.heartRateLowBpm}
        least={20}
        most={200}
        onChange={(heartRateLowBpm) => change({ heartRateLowBpm })}
      />
      <OptionalNumber
        label={words.heartRateHigh}
        unit={text.unitBpm}
        value={settings.heartRateHighBpm}
        least={60}
        most={250}
        onChange={(heartRateHighBpm) => change({ heartRateHighBpm })}
      />
      <OptionalNumber
        label={words.maxHold}
        unit={words.seconds}
        value={settings.maxHoldDurationMs === null ? null : settings.maxHoldDurationMs / 1000}
        least={5}
        most={900}
        onChange={(seconds) => change({ maxHoldDurationMs: seconds === null ? null : seconds * 1000 })}
      />
      <ChoiceField
        label={words.forecastAlarm}
        value={settings.forecastAlarm}
        choices={(['high', 'medium', 'off'] as const).map((each) => [each, words.forecast[each]])}
        onChange={(forecastAlarm) => change({ forecastAlarm })}
      />
    </div>
  );
}

interface ThresholdsProps {
  readonly thresholdsPercent: AthleteSettings['thresholdsPercent'];
  readonly onChange: (thresholdsPercent: AthleteSettings['thresholdsPercent']) => void;
}

/** Numbers as typed, in falling order and each once; null where one is out of range or there are too many. */
function parseThresholds(typed: string): Percent[] | null {
  const words = typed.split(/[\s,;]+/).filter((word) => word !== '');
  const numbers = [...new Set(words.map(Number))].sort((a, b) => b - a);
  const fit = numbers.length <= 8 && numbers.every((number) => number >= 50 && number <= 100);
  return fit ? numbers.map(percent) : null;
}

function Thresholds({ thresholdsPercent, onChange }: ThresholdsProps) {
  const { text } = useApp();
  const words = text.settings;
  const wrong = useSignal(false);
  const hintId = useId();
  const typed = useTyped(thresholdsPercent.join(' '), (text) => {
    const parsed = parseThresholds(text);
    wrong.value = parsed === null;
    if (parsed !== null) onChange(parsed);
    return wrong.value;
  });
  return (
    <label class="field">
      <span>
        {words.thresholds} ({text.unitPercent})
      </span>
      <input
        type="text"
        {...typed}
        placeholder={words.off}
        aria-describedby={hintId}
        aria-invalid={wrong.value}
      />
      <small id={hintId} class={wrong.value ? 'problem' : 'hint'}>
        {words.thresholdsHint}
      </small>
    </label>
  );
}

export interface FloorStepperProps {
  readonly label: string;
  readonly floor: number;
  readonly onChange: (floor: Percent) => void;
}

export function FloorStepper({ label, floor, onChange }: FloorStepperProps) {
  const { text } = useApp();
  const set = (value: number) =>
    onChange(percent(Math.min(floorRangePercent.most, Math.max(floorRangePercent.least, value))));
  return (
    <fieldset class="stepper" aria-label={label}>
      <span class="stepper-label">{text.setup.floor}</span>
      <button
        type="button"
        class="button stepper-button"
        aria-label={text.settings.lowerFloor}
        disabled={floor <= floorRangePercent.least}
        onClick={() => set(floor - 1)}
      >
        {'\u2212'}
      </button>
      <output class="stepper-value">{`${floor}\u202f%`}</output>
      <button
        type="button"
        class="button stepper-button"
        aria-label={text.settings.raiseFloor}
        disabled={floor >= floorRangePercent.most}
        onClick={() => set(floor + 1)}
      >
        +
      </button>
    </fieldset>
  );
}

interface OptionalNumberProps {
  readonly label: string;
  readonly unit: string;
  readonly value: number | null;
  readonly least: number;
  readonly most: number;
  readonly onChange: (value: number | null) => void;
}

/** An empty field means the limit is off. A number out of range is said and not sent. */
function OptionalNumber({ label, unit, value, least, most, onChange }: OptionalNumberProps) {
  const { text } = useApp();
  const wrong = useSignal(false);
  const hintId = useId();
  const typed = useTyped(String(value ?? ''), (given) => {
    const number = Number(given.trim());
    const isOff = given.trim() === '';
    wrong.value = !isOff && !(number >= least && number <= most);
    if (!wrong.value) onChange(isOff ? null : number);
    return wrong.value;
  });
  return (
    <label class="field">
      <span>
        {label} ({unit})
      </span>
      <input
        type="number"
        inputMode="numeric"
        min={least}
        max={most}
        {...typed}
        placeholder={text.settings.off}
        aria-describedby={hintId}
        aria-invalid={wrong.value}
      />
      <small id={hintId} class={wrong.value ? 'problem' : 'hint'}>
        {text.settings.range(least, most)}
      </small>
    </label>
  );
}
