// Erasing somebody with everything of theirs at this hub, an athlete or one who led: says exactly what goes.

import { useSignal } from '@preact/signals';
import { useEffect, useLayoutEffect } from 'preact/hooks';
import type { Belongings, FoundRecordingsBody } from '../../../shared/http.ts';
import { foldedName } from '../../../shared/name-text.ts';
import { useApp } from '../../app/app-context.ts';
import { AthleteField } from '../../components/athlete-field.tsx';
import { EraseDialog } from '../../components/erase-dialog.tsx';
import { forgetTimingOf } from '../../state/lap-storage.ts';

export interface EraseAthleteProps {
  /** Has also those who were taken off the list of athletes. */
  readonly inRecordings: FoundRecordingsBody['choices']['athletes'];
  readonly onClose: () => void;
  readonly onErased: () => void;
}

interface Person {
  readonly athleteId: string;
  readonly name: string;
  /** Known here only as who led. */
  readonly isLeader: boolean;
}

const counted = [
  'ownRecordings',
  'sharedRecordings',
  'ledRecordings',
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
  const { people, problem } = usePeople(inRecordings);
  const athleteId = useSignal('');
  const belongings = useSignal<Belongings | null>(null);
  const erased = useSignal<string | null>(null);
  const isRunning = hub.recording.value;
  // Before the paint, so that nobody sees the belongings of whom was chosen before beside this name.
  useLayoutEffect(() => {
    belongings.value = null;
    problem.value = null;
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
  const known = person === undefined || belongings.value === null ? null : person;
  return (
    <EraseDialog
      words={words}
      whom={known === null ? null : { id: known.athleteId, name: known.name }}
      problem={problem.value}
      mayErase={!isRunning}
      {...(erased.value !== null && {
        done: (
          <>
            <p role="status">{words.done(erased.value)}</p>
            <p class="hint">{words.notTouched}</p>
          </>
        ),
      })}
      erase={() => http.eraseAthlete(athleteId.value)}
      onErased={() => {
        forgetTimingOf(localStorage, athleteId.value);
        drafts.forgetOf(athleteId.value);
        erased.value = person?.name ?? '';
        onErased();
      }}
      onClose={onClose}
    >
      {isRunning ? <p class="notice notice--strong">{words.running}</p> : null}
      <AthleteField
        label={words.athlete}
        athletes={people.value.map(({ athleteId: id, name, isLeader }) => ({
          athleteId: id,
          name: isLeader ? words.asCoach(name) : name,
        }))}
        athleteId={athleteId.value}
        nobody={words.choose}
        disabled={isRunning}
        onChange={(id) => (athleteId.value = id)}
      />
      {known === null || belongings.value === null ? null : (
        <>
          <p>{words.goes}</p>
          <ul class="erase-list">
            {counted.flatMap((key) => {
              const number = belongings.value![key];
              return number === 0 ? [] : [<li key={key}>{words[key](number)}</li>];
            })}
            <li>{known.isLeader ? words.inLogs : words.settings}</li>
          </ul>
          <p class="hint">{words.notTouched}</p>
        </>
      )}
    </EraseDialog>
  );
}

/** Everybody of whom something is here, also whom only the bin knows any more, by name. */
function usePeople(inRecordings: EraseAthleteProps['inRecordings']) {
  const { text, http } = useApp();
  const people = useSignal<readonly Person[]>([]);
  const problem = useSignal<string | null>(null);
  useEffect(() => {
    void Promise.all([http.athletes(), http.bin(), http.leaders()]).then(([answer, bin, led]) => {
      if (!answer.ok) {
        problem.value = text.erase.failed(answer.reason);
        return;
      }
      const known = new Map<string, Person>();
      const add = (athleteId: string, name: string, isLeader = false): unknown =>
        known.set(athleteId, { athleteId, name, isLeader });
      for (const { athletes } of bin.ok ? bin.value.items : [])
        for (const each of athletes) if (each.name !== '') add(each.athleteId, each.name);
      for (const { athleteId, name } of inRecordings) add(athleteId, name);
      for (const { athleteId, name } of answer.value.athletes) add(athleteId, name);
      // Whoever is both is erased as both.
      const names = new Set([...known.values()].map(({ name }) => foldedName(name)));
      for (const { leaderIds, name } of led.ok ? led.value.leaders : [])
        if (!names.has(foldedName(name))) add(leaderIds[0]!, name, true);
      people.value = [...known.values()].toSorted((one, other) => one.name.localeCompare(other.name));
    });
  }, []);
  return { people, problem };
}
