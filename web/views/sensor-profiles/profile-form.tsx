// The profile in plain words: each control changes one value of the text, which stays as a person wrote it. What the form does not know is
// left to the text.

import type { JSONPath } from 'jsonc-parser';
import {
  checksumKinds,
  isWave,
  numberTypes,
  type ProfileField,
  profileAsides,
  profileChannels,
  profileFlags,
  profileSources,
} from '../../../src/profiles/sensor-profile.ts';
import { useApp } from '../../app/app-context.ts';
import { ChoiceField } from '../../components/choice-field.tsx';
import { Tick } from '../../components/tick.tsx';
import { looseValue, partOf, withField, withValue } from './profile-text.ts';

export interface ProfileFormProps {
  readonly value: string;
  readonly onChange: (text: string, joins: boolean) => void;
  /** Characteristics of the sensor that is listened to, to choose from. */
  readonly characteristics: readonly { readonly service: string; readonly characteristic: string }[];
}

const allGives: readonly ProfileField['gives'][] = [
  ...profileChannels,
  ...profileSources,
  ...profileFlags,
  ...profileAsides,
];

export function ProfileForm({ value, onChange, characteristics }: ProfileFormProps) {
  const { text } = useApp();
  const words = text.profiles.fields;
  const loose = looseValue(value);
  const set = (path: JSONPath, to: unknown, joins = true): void =>
    onChange(withValue(value, path, to), joins);
  const textOf = (path: JSONPath): string => String(partOf(loose, path) ?? '');
  const measures = partOf(loose, ['measures']);
  const measured: readonly string[] = Array.isArray(measures) ? measures.map(String) : [];
  const fields = partOf(loose, ['fields']);
  return (
    <div class="profile-form">
      <TextField label={words.name} value={textOf(['name'])} onInput={(to) => set(['name'], to)} />
      <TextField
        label={words.prefix}
        value={textOf(['match', 'namePrefix'])}
        onInput={(to) => set(['match', 'namePrefix'], to === '' ? undefined : to)}
      />
      <fieldset class="profile-measures">
        <legend>{words.measures}</legend>
        {(['oximeter', 'heartRate', 'breathing'] as const).map((kind) => (
          <Tick
            key={kind}
            checked={measured.includes(kind)}
            onChange={(isOn) =>
              set(['measures'], isOn ? [...measured, kind] : measured.filter((each) => each !== kind), false)
            }
          >
            {text.profiles.kinds[kind]}
          </Tick>
        ))}
      </fieldset>
      <TextField
        label={words.service}
        value={textOf(['link', 'service'])}
        onInput={(to) => set(['link', 'service'], to)}
        list="profile-services"
      />
      <TextField
        label={words.notify}
        value={textOf(['link', 'notify'])}
        onInput={(to) => set(['link', 'notify'], to)}
        list="profile-notifies"
      />
      <Suggestions id="profile-services" values={characteristics.map(({ service }) => service)} />
      <Suggestions
        id="profile-notifies"
        values={characteristics.map(({ characteristic }) => characteristic)}
      />
      <StartCommand value={value} onChange={onChange} />
      <FrameFields value={value} onChange={onChange} />
      <h3>{words.title}</h3>
      <ol class="profile-fields">
        {(Array.isArray(fields) ? fields : []).map((field: unknown, number) => (
          <li key={number}>
            <FieldForm
              field={field}
              onSet={(path, to, joins) => set(['fields', number, ...path], to, joins)}
            />
            <button
              type="button"
              class="button button--quiet"
              onClick={() => set(['fields', number], undefined, false)}
            >
              {words.remove}
            </button>
          </li>
        ))}
      </ol>
      <button
        type="button"
        class="button"
        onClick={() => onChange(withField(value, { gives: 'spo2Percent', at: 0 }), false)}
      >
        {words.add}
      </button>
    </div>
  );
}

function StartCommand({ value, onChange }: Pick<ProfileFormProps, 'value' | 'onChange'>) {
  const { text } = useApp();
  const loose = looseValue(value);
  const of = (key: string): string => String(partOf(loose, ['link', 'start', 0, key]) ?? '');
  const set = (key: 'characteristic' | 'bytes', to: string): void => {
    const command = { characteristic: of('characteristic'), bytes: of('bytes'), [key]: to };
    const isEmpty = command.characteristic === '' && command.bytes === '';
    if (isEmpty) onChange(withValue(value, ['link', 'start'], undefined), true);
    else if (partOf(loose, ['link', 'start', 0]) === undefined)
      onChange(withValue(value, ['link', 'start'], [command]), false);
    else onChange(withValue(value, ['link', 'start', 0, key], to), true);
  };
  return (
    <fieldset class="profile-measures">
      <legend>{text.profiles.fields.start}</legend>
      <TextField
        label={text.profiles.fields.notify}
        value={of('characteristic')}
        onInput={(to) => set('characteristic', to)}
        list="profile-notifies"
      />
      <TextField label={text.profiles.bytes} value={of('bytes')} onInput={(to) => set('bytes', to)} />
    </fieldset>
  );
}

function FrameFields({ value, onChange }: Pick<ProfileFormProps, 'value' | 'onChange'>) {
  const { text } = useApp();
  const words = text.profiles.fields;
  const loose = looseValue(value);
  const frame = partOf(loose, ['frame']);
  const fixed = partOf(frame, ['length', 'fixed']);
  const isOther =
    frame !== undefined && frame !== null && partOf(frame, ['length']) !== undefined && fixed === undefined;
  const setSync = (to: string): void => {
    if (to === '') onChange(withValue(value, ['frame'], undefined), true);
    else if (frame === undefined || frame === null)
      onChange(withValue(value, ['frame'], { sync: to, length: { fixed: 8 } }), true);
    else onChange(withValue(value, ['frame', 'sync'], to), true);
  };
  const kind = String(partOf(frame, ['checksum', 'kind']) ?? '');
  return (
    <fieldset class="profile-measures">
      <legend>{words.framing}</legend>
      <TextField label={words.sync} value={String(partOf(frame, ['sync']) ?? '')} onInput={setSync} />
      {frame === undefined || frame === null ? null : (
        <>
          {isOther ? (
            <p class="hint">{words.lengthOther}</p>
          ) : (
            <NumberField
              label={words.length}
              value={fixed}
              onInput={(to) => onChange(withValue(value, ['frame', 'length'], { fixed: to ?? 0 }), true)}
            />
          )}
          <ChoiceField
            label={words.checksum}
            value={kind}
            choices={[['', words.noChecksum], ...checksumKinds.map((each) => [each, each] as const)]}
            onChange={(to) =>
              onChange(
                to === '' || partOf(frame, ['checksum']) === undefined
                  ? withValue(value, ['frame', 'checksum'], to === '' ? undefined : { kind: to, from: 0 })
                  : withValue(value, ['frame', 'checksum', 'kind'], to),
                false,
              )
            }
          />
        </>
      )}
    </fieldset>
  );
}

interface FieldFormProps {
  readonly field: unknown;
  readonly onSet: (path: JSONPath, to: unknown, joins: boolean) => void;
}

function FieldForm({ field, onSet }: FieldFormProps) {
  const { text } = useApp();
  const words = text.profiles.fields;
  const gives = allGives.find((each) => each === partOf(field, ['gives'])) ?? 'spo2Percent';
  const type = numberTypes.find((each) => each === partOf(field, ['type'])) ?? 'u8';
  const number = (path: JSONPath): unknown => partOf(field, path);
  const setBits = (low: number | null, high: number | null): void =>
    onSet(['bits'], low === null && high === null ? undefined : [low ?? 0, high ?? low ?? 0], true);
  const asNumber = (value: unknown): number | null => (typeof value === 'number' ? value : null);
  const [low, high] = [asNumber(number(['bits', 0])), asNumber(number(['bits', 1]))];
  return (
    <div class="profile-field">
      <ChoiceField
        label={words.gives}
        value={gives}
        choices={allGives.map((each) => [each, text.profiles.gives[each]] as const)}
        onChange={(to) => onSet(['gives'], to, false)}
      />
      <NumberField label={words.at} value={number(['at'])} onInput={(to) => onSet(['at'], to ?? 0, true)} />
      <ChoiceField
        label={words.type}
        value={type}
        choices={numberTypes.map((each) => [each, each] as const)}
        onChange={(to) => onSet(['type'], to === 'u8' ? undefined : to, false)}
      />
      <NumberField label={words.bitFrom} value={low} onInput={(to) => setBits(to, high)} />
      <NumberField label={words.bitTo} value={high} onInput={(to) => setBits(low, to)} />
      <NumberField
        label={words.scale}
        value={number(['scale'])}
        onInput={(to) => onSet(['scale'], to ?? undefined, true)}
      />
      <NumberField
        label={words.invalid}
        value={number(['invalid', 0])}
        onInput={(to) => onSet(['invalid'], to === null ? undefined : [to], true)}
      />
      {isWave(gives) ? (
        <NumberField
          label={words.rate}
          value={number(['rateHz'])}
          onInput={(to) => onSet(['rateHz'], to ?? undefined, true)}
        />
      ) : null}
    </div>
  );
}

interface TextFieldProps {
  readonly label: string;
  readonly value: string;
  readonly onInput: (value: string) => void;
  readonly list?: string;
}

function TextField({ label, value, onInput, list }: TextFieldProps) {
  return (
    <label class="field">
      <span>{label}</span>
      <input
        type="text"
        value={value}
        spellcheck={false}
        autocomplete="off"
        {...(list !== undefined && { list })}
        onInput={(event) => onInput(event.currentTarget.value)}
      />
    </label>
  );
}

function NumberField({
  label,
  value,
  onInput,
}: {
  readonly label: string;
  readonly value: unknown;
  readonly onInput: (value: number | null) => void;
}) {
  return (
    <label class="field">
      <span>{label}</span>
      <input
        type="number"
        step="any"
        value={typeof value === 'number' ? value : ''}
        onInput={(event) => {
          const given = event.currentTarget.value;
          onInput(given === '' ? null : Number(given));
        }}
      />
    </label>
  );
}

function Suggestions({ id, values }: { readonly id: string; readonly values: readonly string[] }) {
  return (
    <datalist id={id}>
      {[...new Set(values)].map((value) => (
        <option key={value} value={value} />
      ))}
    </datalist>
  );
}
