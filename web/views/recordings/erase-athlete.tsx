// Erasing an athlete with everything of theirs: says exactly what goes, and asks for the name before it does.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Belongings, FoundRecordingsBody } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { AthleteField } from '../../components/athlete-field.tsx';
import { Dialog } from '../../components/dialog.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { isolated } from '../../state/format.ts';
import { forgetTimingOf } from '../../state/lap-storage.ts';
import { isNameOf } from '../../state/typed-name.ts';

export interface EraseAthleteProps {
  /** Has also those who were taken off the list of athletes. */
  readonly inRecordings: FoundRecordingsBody['choices']['athletes'];
  readonly onClose: () => void;
  readonly onErased: () => void;
}

interface Person {
  readonly athleteId: string;
  readonly name: string;
}

const counted = [
  'ownRecordings',
  'sharedRecordings',
  'holds',
  'marks',
  'corrections',
  'trainingEntries',
  'planRuns',
  'sensors',
  'devices',
  'binned',
] as const satisfies readonly (keyof Belongings)[];

export function EraseAthlete({ inRecordings, onClose, onErased }: EraseAthleteProps) {
  const { text, http, hub, drafts } = useApp();
  const words = text.erase;
  const people = useSignal<readonly Person[]>([]);
  const athleteId = useSignal('');
  const belongings = useSignal<Belongings | null>(null);
  const typed = useSignal('');
  const problem = useSignal<string | null>(null);
  const erasing = useSignal(false);
  const erased = useSignal<string | null>(null);
  const certain = useSignal(false);
  const isRunning = hub.recording.value;

  useEffect(() => {
    void Promise.all([http.athletes(), http.bin()]).then(([answer, bin]) => {
      if (!answer.ok) {
        problem.value = words.failed(answer.reason);
        return;
      }
      const known = new Map<string, string>();
      // Also whom only the bin knows any more.
      for (const { athletes } of bin.ok ? bin.value.items : [])
        for (const each of athletes) if (each.name !== '') known.set(each.athleteId, each.name);
      for (const { athleteId: id, name } of inRecordings) known.set(id, name);
      for (const athlete of answer.value.athletes) known.set(athlete.athleteId, athlete.name);
      people.value = [...known]
        .map(([id, name]) => ({ athleteId: id, name }))
        .sort((a, b) => a.name.localeCompare(b.name));
    });
  }, []);
  useEffect(() => {
    belongings.value = null;
    typed.value = '';
    problem.value = null;
    certain.value = false;
    if (athleteId.value === '' || isRunning) return undefined;
    let current = true;
    void http.belongings(athleteId.value).then((answer) => {
      if (!current) return;
      if (answer.ok) belongings.value = answer.value;
      else problem.value = words.failed(answer.reason);
    });
    return () => {
      current = false;
    };
  }, [athleteId.value, isRunning]);

  const person = people.value.find((each) => each.athleteId === athleteId.value);
  const mayErase =
    person !== undefined &&
    belongings.value !== null &&
    !erasing.value &&
    !isRunning &&
    isNameOf(typed.value, person.name);
  const erase = async () => {
    if (!mayErase) return;
    // Asked twice: nothing brings it back.
    if (!certain.value) {
      certain.value = true;
      return;
    }
    erasing.value = true;
    const answer = await http.eraseAthlete(person.athleteId);
    erasing.value = false;
    if (!answer.ok) {
      problem.value = words.failed(answer.reason);
      return;
    }
    forgetTimingOf(localStorage, person.athleteId);
    drafts.forgetOf(person.athleteId);
    erased.value = person.name;
    onErased();
  };
  if (erased.value !== null)
    return (
      <Dialog title={words.title} onClose={onClose}>
        <p role="status">{words.done(erased.value)}</p>
        <p class="hint">{words.notTouched}</p>
      </Dialog>
    );
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
      {isRunning ? <p class="notice notice--strong">{words.running}</p> : null}
      <AthleteField
        label={words.athlete}
        athletes={people.value}
        athleteId={athleteId.value}
        nobody={words.choose}
        disabled={isRunning}
        onChange={(id) => (athleteId.value = id)}
      />
      {belongings.value === null || person === undefined ? null : (
        <>
          <p>{words.goes}</p>
          <ul class="erase-list">
            {counted.flatMap((key) => {
              const number = belongings.value![key];
              return number === 0 ? [] : [<li key={key}>{words[key](number)}</li>];
            })}
            <li>{words.settings}</li>
          </ul>
          <p class="hint">{words.notTouched}</p>
          <label class="field">
            <span>{words.typeName(isolated(person.name))}</span>
            <input
              type="text"
              value={typed.value}
              autocomplete="off"
              onInput={(event) => (typed.value = event.currentTarget.value)}
            />
          </label>
        </>
      )}
      {certain.value && person !== undefined ? (
        <p class="notice notice--strong" role="alert">
          {words.again(person.name)}
        </p>
      ) : null}
      <ProblemNotice problem={problem.value} />
    </Dialog>
  );
}
