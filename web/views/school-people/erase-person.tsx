// Erasing somebody at every hub and in the archive: says exactly whom and what goes.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { SchoolBelongingsBody, SchoolCoach, SchoolPerson } from '../../../shared/school/pages.ts';
import { useApp } from '../../app/app-context.ts';
import { EraseDialog } from '../../components/erase-dialog.tsx';
import { isolated } from '../../state/format.ts';
import { forgetTimingOf } from '../../state/lap-storage.ts';
import { placesOf, roomsOf, SimulatedTag } from './person-lines.tsx';

interface Asked {
  readonly onClose: () => void;
  readonly onErased: (name: string) => void;
}

export function ErasePerson({ person, onClose, onErased }: Asked & { readonly person: SchoolPerson }) {
  const { text, http, drafts } = useApp();
  const words = text.schoolPeople.erasing;
  const belongings = useSignal<SchoolBelongingsBody | null>(null);
  const problem = useSignal<string | null>(null);
  const { personId, name } = person;
  useEffect(() => {
    void http.school.belongings(personId).then((answer) => {
      if (answer.ok) belongings.value = answer.value;
      else problem.value = words.failed(answer.reason);
    });
  }, []);
  return (
    <EraseDialog
      words={words}
      whom={belongings.value === null ? null : { id: personId, name }}
      problem={problem.value}
      erase={() => http.school.erase({ personId })}
      onErased={() => {
        forgetTimingOf(localStorage, personId);
        drafts.forgetOf(personId);
        onClose();
        onErased(name);
      }}
      onClose={onClose}
    >
      {belongings.value === null ? null : <WhatGoes belongings={belongings.value} />}
    </EraseDialog>
  );
}

/** The name of who led, wherever it stands; the recordings are others'. */
export function EraseCoach({ coach, onClose, onErased }: Asked & { readonly coach: SchoolCoach }) {
  const { text, http } = useApp();
  const words = text.schoolPeople.erasing;
  const { name, sessionCount } = coach;
  return (
    <EraseDialog
      words={{ ...words, again: words.coachAgain }}
      whom={{ id: name, name }}
      problem={null}
      erase={() => http.school.erase({ coach: name })}
      onErased={() => {
        onClose();
        onErased(name);
      }}
      onClose={onClose}
    >
      <p>{words.coachGoes(isolated(name))}</p>
      <ul class="school-goes">
        <li>
          {words.led(sessionCount)}
          <SimulatedTag {...coach} />
        </li>
        <li>{words.ledAt(roomsOf(coach, text.schoolPeople))}</li>
        <li>{words.inLogs}</li>
      </ul>
      <p class="hint">{words.coachStays}</p>
      <p class="hint">{words.when}</p>
      <p class="hint">{words.notTouched}</p>
    </EraseDialog>
  );
}

function WhatGoes({ belongings }: { readonly belongings: SchoolBelongingsBody }) {
  const { text } = useApp();
  const words = text.schoolPeople.erasing;
  const { person, ownRecordings, sharedRecordings, ledRecordings, documents } = belongings;
  const counted = [
    [ownRecordings, words.own],
    [sharedRecordings, words.shared],
    [ledRecordings, words.led],
    [person.holdCount, words.holds],
    [documents, words.documents],
  ] as const;
  return (
    <>
      <p>
        {words.goes(isolated(person.name))}
        <SimulatedTag {...person} />
      </p>
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
