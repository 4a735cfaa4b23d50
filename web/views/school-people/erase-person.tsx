// Erasing somebody at every hub and in the archive: says exactly whom and what goes, and asks twice.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { SchoolBelongingsBody, SchoolPerson } from '../../../shared/school/pages.ts';
import { useApp } from '../../app/app-context.ts';
import { Dialog } from '../../components/dialog.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { isolated } from '../../state/format.ts';
import { forgetTimingOf } from '../../state/lap-storage.ts';
import { isNameOf } from '../../state/typed-name.ts';
import { placesOf } from './person-lines.tsx';

export function ErasePerson(props: {
  readonly person: SchoolPerson;
  readonly onClose: () => void;
  readonly onErased: (name: string) => void;
}) {
  const { person, onClose, onErased } = props;
  const { text, http, drafts } = useApp();
  const words = text.schoolPeople.erasing;
  const belongings = useSignal<SchoolBelongingsBody | null>(null);
  const typed = useSignal('');
  const problem = useSignal<string | null>(null);
  const erasing = useSignal(false);
  const certain = useSignal(false);
  useEffect(() => {
    void http.school.belongings(person.personId).then((answer) => {
      if (answer.ok) belongings.value = answer.value;
      else problem.value = words.failed(answer.reason);
    });
  }, []);
  const mayErase = belongings.value !== null && !erasing.value && isNameOf(typed.value, person.name);
  const erase = async (): Promise<void> => {
    if (!mayErase) return;
    // Asked twice: nothing brings it back.
    if (!certain.value) {
      certain.value = true;
      return;
    }
    erasing.value = true;
    const answer = await http.school.erase(person.personId);
    erasing.value = false;
    if (!answer.ok) {
      problem.value = words.failed(answer.reason);
      return;
    }
    forgetTimingOf(localStorage, person.personId);
    drafts.forgetOf(person.personId);
    onClose();
    onErased(person.name);
  };
  return (
    <Dialog
      title={words.title}
      onClose={onClose}
      closeLabel={text.cancel}
      actions={
        <button
          type="button"
          class="button button--primary"
          disabled={!mayErase}
          onClick={() => void erase()}
        >
          {certain.value ? words.confirmAgain : words.confirm}
        </button>
      }
    >
      {belongings.value === null ? null : <WhatGoes belongings={belongings.value} />}
      <label class="field">
        <span>{words.typeName(isolated(person.name))}</span>
        <input
          type="text"
          value={typed.value}
          autocomplete="off"
          onInput={(event) => {
            typed.value = event.currentTarget.value;
            certain.value = false;
          }}
        />
      </label>
      {certain.value ? (
        <p class="notice notice--strong" role="alert">
          {words.again(isolated(person.name))}
        </p>
      ) : null}
      <ProblemNotice problem={problem.value} />
    </Dialog>
  );
}

function WhatGoes({ belongings }: { readonly belongings: SchoolBelongingsBody }) {
  const { text } = useApp();
  const words = text.schoolPeople.erasing;
  const { person, ownRecordings, sharedRecordings, documents } = belongings;
  const counted = [
    [ownRecordings, words.own],
    [sharedRecordings, words.shared],
    [person.holdCount, words.holds],
    [documents, words.documents],
  ] as const;
  return (
    <>
      <p>{words.goes(isolated(person.name))}</p>
      <ul class="school-goes">
        <li>{words.places(placesOf(person, text.schoolPeople))}</li>
        {counted.flatMap(([count, say], index) => (count === 0 ? [] : [<li key={index}>{say(count)}</li>]))}
        <li>{words.atHubs}</li>
      </ul>
      <p class="hint">{words.when}</p>
      <p class="hint">{words.notTouched}</p>
    </>
  );
}
