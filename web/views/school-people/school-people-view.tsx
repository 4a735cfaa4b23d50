// The people of a school: everybody whom a hub knows, who may be one person, who was joined, and who was erased how far.

import { useComputed, useSignal } from '@preact/signals';
import type { SchoolCoach, SchoolPerson, SchoolPersonsBody } from '../../../shared/school/pages.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { Name } from '../../components/name.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { personExportPath } from '../../connection/school-http.ts';
import { formatWallTime, isolated } from '../../state/format.ts';
import { Coaches } from './coaches.tsx';
import { EraseCoach, ErasePerson } from './erase-person.tsx';
import { Erasures } from './erasures.tsx';
import { MergePersons } from './merge-persons.tsx';
import { PersonLines, placesOf } from './person-lines.tsx';
import { useSchoolPeople } from './use-school-people.ts';
import './school-people.css';

/** More than this is looked for by name. */
const mostShown = 200;

const plain = (text: string): string => text.trim().toLocaleLowerCase();

export function SchoolPeopleView() {
  const { text } = useApp();
  const words = text.schoolPeople;
  useDocumentTitle(words.title);
  const state = useSchoolPeople();
  const { people, erasures, problem, said, again } = state;
  const merging = useSignal<{ readonly kept: string; readonly taken: string } | null>(null);
  const erasing = useSignal<SchoolPerson | null>(null);
  const erasingCoach = useSignal<SchoolCoach | null>(null);
  const body = people.value;
  const done = (sentence: string): void => {
    merging.value = null;
    said.value = sentence;
    void again();
  };
  return (
    <article class="sheet sheet--wide school-people">
      <h1>{words.title}</h1>
      <p>{words.intro}</p>
      <ProblemNotice problem={problem.value} onAgain={() => void again()} />
      <p role="status">{said.value}</p>
      {body === null && problem.value === null ? <p class="hint">{words.loading}</p> : null}
      {body === null ? null : (
        <>
          <Proposals body={body} onLook={(kept, taken) => (merging.value = { kept, taken })} />
          <Everybody
            persons={body.persons}
            onJoin={({ personId }) => (merging.value = { kept: personId, taken: '' })}
            onErase={(person) => (erasing.value = person)}
          />
          <Coaches coaches={body.coaches} onErase={(coach) => (erasingCoach.value = coach)} />
          <Merges body={body} onUndone={done} onFailed={(reason) => (problem.value = reason)} />
        </>
      )}
      {erasures.value === null ? null : <Erasures erasures={erasures.value} />}
      {merging.value === null || body === null ? null : (
        <MergePersons
          persons={body.persons}
          first={merging.value}
          onClose={() => (merging.value = null)}
          onDone={done}
        />
      )}
      {erasing.value === null ? null : (
        <ErasePerson
          person={erasing.value}
          onClose={() => (erasing.value = null)}
          onErased={(name) => done(words.erasing.done(isolated(name)))}
        />
      )}
      {erasingCoach.value === null ? null : (
        <EraseCoach
          coach={erasingCoach.value}
          onClose={() => (erasingCoach.value = null)}
          onErased={(name) => done(words.erasing.done(isolated(name)))}
        />
      )}
    </article>
  );
}

function Proposals(props: {
  readonly body: SchoolPersonsBody;
  readonly onLook: (keptPersonId: string, takenPersonId: string) => void;
}) {
  const { text } = useApp();
  const words = text.schoolPeople;
  const { persons, proposals } = props.body;
  const byId = new Map(persons.map((person) => [person.personId, person]));
  const pairs = proposals.flatMap(({ keptPersonId, takenPersonId }) => {
    const [kept, taken] = [byId.get(keptPersonId), byId.get(takenPersonId)];
    return kept === undefined || taken === undefined ? [] : [{ kept, taken }];
  });
  return (
    <section class="step">
      <h2>{words.proposals.title}</h2>
      <p class="hint">{pairs.length === 0 ? words.proposals.none : words.proposals.lead}</p>
      {pairs.length === 0 ? null : (
        <ul class="school-people-list">
          {pairs.map(({ kept, taken }) => (
            <li key={`${kept.personId} ${taken.personId}`}>
              <div class="school-person">
                <b>
                  <Name>{kept.name}</Name>
                </b>
                <PersonLines person={kept} />
              </div>
              <div class="school-person">
                <b>
                  <Name>{taken.name}</Name>
                </b>
                <PersonLines person={taken} />
              </div>
              <button
                type="button"
                class="button"
                aria-label={words.proposals.lookWhat(
                  isolated(kept.name),
                  placesOf(kept, words),
                  placesOf(taken, words),
                )}
                onClick={() => props.onLook(kept.personId, taken.personId)}
              >
                {words.proposals.look}
              </button>
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}

function Everybody(props: {
  readonly persons: readonly SchoolPerson[];
  readonly onJoin: (person: SchoolPerson) => void;
  readonly onErase: (person: SchoolPerson) => void;
}) {
  const { text } = useApp();
  const words = text.schoolPeople;
  const search = useSignal('');
  const persons = useSignal(props.persons);
  persons.value = props.persons;
  const found = useComputed(() => {
    const wanted = plain(search.value);
    return persons.value
      .filter(({ name, athletes }) =>
        [name, ...athletes.flatMap((each) => [each.name, each.room, each.hub])].some((each) =>
          plain(each).includes(wanted),
        ),
      )
      .toSorted(
        (one, other) => one.name.localeCompare(other.name) || (one.personId < other.personId ? -1 : 1),
      );
  });
  if (props.persons.length === 0) return <p class="empty">{words.none}</p>;
  return (
    <section class="step" aria-label={words.nav}>
      <label class="field field--narrow">
        <span>{words.search}</span>
        <input
          type="search"
          value={search.value}
          onInput={(event) => (search.value = event.currentTarget.value)}
        />
      </label>
      <p class="hint" role="status">
        {found.value.length === 0 ? words.notFound : words.found(found.value.length)}
      </p>
      <ul class="school-people-list">
        {found.value.slice(0, mostShown).map((person) => (
          <PersonRow key={person.personId} person={person} {...props} />
        ))}
      </ul>
      {found.value.length > mostShown ? (
        <p class="hint">{words.more(found.value.length - mostShown)}</p>
      ) : null}
      <p class="hint">{words.takeAlongHint}</p>
    </section>
  );
}

function PersonRow(props: {
  readonly person: SchoolPerson;
  readonly onJoin: (person: SchoolPerson) => void;
  readonly onErase: (person: SchoolPerson) => void;
}) {
  const { person } = props;
  const words = useApp().text.schoolPeople;
  // Two of one name are told apart in what is read aloud too.
  const whole = `${isolated(person.name)}, ${placesOf(person, words)}`;
  return (
    <li>
      <div class="school-person">
        <b>
          <Name>{person.name}</Name>
        </b>
        <PersonLines person={person} />
      </div>
      <div class="button-row">
        <a
          class="button"
          href={`/weeks/${encodeURIComponent(person.personId)}`}
          aria-label={words.weeksOf(whole)}
        >
          {words.weeks}
        </a>
        <a
          class="button"
          href={personExportPath(person.personId)}
          download
          aria-label={words.takeAlongWhat(whole)}
        >
          {words.takeAlong}
        </a>
        <button
          type="button"
          class="button"
          aria-label={words.joinWhat(whole)}
          onClick={() => props.onJoin(person)}
        >
          {words.join}
        </button>
        <button
          type="button"
          class="button button--quiet"
          aria-label={words.eraseWhat(whole)}
          onClick={() => props.onErase(person)}
        >
          {words.erase}
        </button>
      </div>
    </li>
  );
}

function Merges(props: {
  readonly body: SchoolPersonsBody;
  readonly onUndone: (sentence: string) => void;
  readonly onFailed: (reason: string) => void;
}) {
  const { text, http } = useApp();
  const words = text.schoolPeople.merges;
  const { persons, merges } = props.body;
  const byId = new Map(persons.map((person) => [person.personId, person]));
  const undo = async (mergeId: string): Promise<void> => {
    const answer = await http.school.undoMerge(mergeId);
    if (answer.ok) props.onUndone(words.undone);
    else props.onFailed(words.failed(answer.reason));
  };
  return (
    <section class="step">
      <h2>{words.title}</h2>
      {merges.length === 0 ? <p class="hint">{words.none}</p> : null}
      <ul class="school-people-list" hidden={merges.length === 0}>
        {merges.map(({ mergeId, keptPersonId, doneBy, doneAtWallMs }) => {
          const person = byId.get(keptPersonId);
          const name = isolated(person?.name ?? keptPersonId);
          return (
            <li key={mergeId}>
              <div class="school-person">
                <b>{name}</b>
                {person === undefined ? null : <PersonLines person={person} />}
                <span class="hint">{`${words.by(isolated(doneBy))}, ${formatWallTime(doneAtWallMs)}`}</span>
              </div>
              <button
                type="button"
                class="button"
                aria-label={words.undoWhat(name)}
                onClick={() => void undo(mergeId)}
              >
                {words.undo}
              </button>
            </li>
          );
        })}
      </ul>
    </section>
  );
}
