// What each athlete says of themselves: agreed to be recorded, fit to train. Noted with the day, and taken back.

import { useSignal } from '@preact/signals';
import type { Participant, StatementKind } from '../../../shared/course.ts';
import { useApp } from '../../app/app-context.ts';
import { Name } from '../../components/name.tsx';
import { isolated } from '../../state/format.ts';
import { dayOf, standingStatement } from '../../state/statements.ts';

const kinds: readonly StatementKind[] = ['consent', 'fitness'];

export function Roster({
  participants,
  onChanged,
}: {
  readonly participants: readonly Participant[];
  readonly onChanged: () => Promise<void>;
}) {
  const { text } = useApp();
  const words = text.course.papers;
  const day = useSignal(dayOf(Date.now()));
  return (
    <>
      <label class="field field--narrow">
        <span>{words.onDay}</span>
        <input type="date" value={day.value} onInput={(event) => (day.value = event.currentTarget.value)} />
      </label>
      <ul class="roster">
        {participants.map((participant) => (
          <li key={participant.athleteId}>
            <strong>
              <Name>{participant.name}</Name>
            </strong>
            {kinds.map((kind) => (
              <Said key={kind} participant={participant} kind={kind} day={day.value} onChanged={onChanged} />
            ))}
          </li>
        ))}
      </ul>
    </>
  );
}

function Said({
  participant,
  kind,
  day,
  onChanged,
}: {
  readonly participant: Participant;
  readonly kind: StatementKind;
  readonly day: string;
  readonly onChanged: () => Promise<void>;
}) {
  const { text, http } = useApp();
  const words = text.course.papers;
  const problem = useSignal<string | null>(null);
  const standing = standingStatement(participant, kind);
  const say = async (isGiven: boolean) => {
    const answer = await http.course.addStatement(participant.athleteId, { kind, isGiven, onDay: day });
    problem.value = answer.ok ? null : answer.reason;
    await onChanged();
  };
  return (
    <div class="roster-said">
      <span>
        {words.kinds[kind]}:{' '}
        <strong>
          {standing === undefined
            ? words.notSaid
            : kind === 'consent'
              ? words.since(standing.onDay)
              : words.onThe(standing.onDay)}
        </strong>
      </span>
      <button
        type="button"
        class="button"
        aria-label={words.sayOf(words.say[kind], isolated(participant.name))}
        onClick={() => void say(true)}
      >
        {words.say[kind]}
      </button>
      {standing === undefined ? null : (
        <button
          type="button"
          class="button button--quiet"
          aria-label={words.sayOf(`${words.takeBack}, ${words.kinds[kind]}`, isolated(participant.name))}
          onClick={() => void say(false)}
        >
          {words.takeBack}
        </button>
      )}
      {problem.value === null ? null : <p class="problem">{problem.value}</p>}
    </div>
  );
}
