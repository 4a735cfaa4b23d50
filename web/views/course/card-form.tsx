// Writing the emergency card.

import { type Signal, useSignal } from '@preact/signals';
import { useLayoutEffect, useRef } from 'preact/hooks';
import type { EmergencyCard } from '../../../shared/course.ts';
import { useApp } from '../../app/app-context.ts';
import { formatWallTime } from '../../state/format.ts';

const mostHelpers = 8;
const noHelper = { name: '', phone: '' };

function follow<Value>(field: Signal<Value>, before: Value, now: Value): void {
  if (JSON.stringify(field.peek()) === JSON.stringify(before)) field.value = now;
}

export function CardForm({ card }: { readonly card: EmergencyCard | null }) {
  const { text, http } = useApp();
  const words = text.course.papers;
  const number = useSignal(card?.number ?? '');
  const address = useSignal(card?.address ?? '');
  const oxygenPlace = useSignal(card?.oxygenPlace ?? '');
  const helpers = useSignal(card?.helpers ?? [noHelper]);
  const said = useSignal<{ readonly ok: boolean; readonly text: string } | null>(null);
  const shown = useRef(card);
  // Written elsewhere, or saved here: what nobody has changed in this form follows it, what is being typed stays.
  useLayoutEffect(() => {
    const before = shown.current;
    shown.current = card;
    follow(number, before?.number ?? '', card?.number ?? '');
    follow(address, before?.address ?? '', card?.address ?? '');
    follow(oxygenPlace, before?.oxygenPlace ?? '', card?.oxygenPlace ?? '');
    follow(helpers, before?.helpers ?? [noHelper], card?.helpers ?? [noHelper]);
    said.value = null;
  }, [card?.writtenWallAtMs]);
  const save = async (event: Event) => {
    event.preventDefault();
    const answer = await http.course.writeEmergencyCard({
      number: number.value,
      address: address.value,
      oxygenPlace: oxygenPlace.value,
      helpers: helpers.value.filter(({ name }) => name.trim() !== ''),
    });
    said.value = answer.ok ? { ok: true, text: words.saved } : { ok: false, text: answer.reason };
  };
  const changeHelper = (at: number, change: Partial<typeof noHelper>) => {
    helpers.value = helpers.value.map((one, index) => (index === at ? { ...one, ...change } : one));
  };
  return (
    <form class="card-form" onSubmit={(event) => void save(event)}>
      {(
        [
          [words.number, number, 'tel', 40],
          [words.address, address, 'text', 300],
          [words.oxygenPlace, oxygenPlace, 'text', 200],
        ] as const
      ).map(([label, field, inputMode, most]) => (
        <label key={label} class="field">
          <span>{label}</span>
          <input
            type="text"
            inputMode={inputMode}
            maxLength={most}
            autocomplete="off"
            value={field.value}
            onInput={(event) => (field.value = event.currentTarget.value)}
          />
        </label>
      ))}
      <fieldset class="card-helpers">
        <legend>{words.helpers}</legend>
        {helpers.value.map((helper, index) => (
          <div key={index} class="card-helper">
            <label class="field">
              <span>{words.helperName}</span>
              <input
                type="text"
                maxLength={80}
                autocomplete="off"
                value={helper.name}
                onInput={(event) => changeHelper(index, { name: event.currentTarget.value })}
              />
            </label>
            <label class="field">
              <span>{words.helperPhone}</span>
              <input
                type="tel"
                maxLength={40}
                autocomplete="off"
                value={helper.phone}
                onInput={(event) => changeHelper(index, { phone: event.currentTarget.value })}
              />
            </label>
            <button
              type="button"
              class="button button--quiet"
              onClick={() => (helpers.value = helpers.value.filter((_, at) => at !== index))}
            >
              {words.removeHelper(helper.name)}
            </button>
          </div>
        ))}
        {helpers.value.length < mostHelpers ? (
          <button type="button" class="button" onClick={() => (helpers.value = [...helpers.value, noHelper])}>
            {words.addHelper}
          </button>
        ) : null}
      </fieldset>
      <div class="recording-actions">
        <button type="submit" class="button button--primary">
          {words.save}
        </button>
      </div>
      <p role="status" class={said.value?.ok === false ? 'problem' : 'hint'}>
        {said.value?.text ??
          (card === null ? '' : words.writtenBy(card.by, formatWallTime(card.writtenWallAtMs)))}
      </p>
    </form>
  );
}
