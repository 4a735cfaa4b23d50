// Who led recordings at a school, by name: their recordings, the list of them as a file, and taking the name out.

import type { SchoolCoach } from '../../../shared/school/pages.ts';
import { useApp } from '../../app/app-context.ts';
import { Name } from '../../components/name.tsx';
import { coachExportPath } from '../../connection/school-http.ts';
import { isolated } from '../../state/format.ts';
import { lookForLeader } from '../recordings/use-found-recordings.ts';
import { roomsOf, SimulatedTag } from './person-lines.tsx';

export function Coaches(props: {
  readonly coaches: readonly SchoolCoach[];
  readonly onErase: (coach: SchoolCoach) => void;
}) {
  const { text } = useApp();
  const words = text.schoolPeople;
  const { coaches } = props;
  return (
    <section class="step">
      <h2>{words.coaches.title}</h2>
      <p class="hint">{coaches.length === 0 ? words.coaches.none : words.coaches.lead}</p>
      {coaches.length === 0 ? null : (
        <ul class="school-people-list">
          {coaches.map((coach) => (
            <li key={coach.name}>
              <div class="school-person">
                <b>
                  <Name>{coach.name}</Name>
                </b>
                <span class="school-person-places">{roomsOf(coach, words)}</span>
                <span class="hint">
                  {words.coaches.counts(coach.sessionCount)}
                  <SimulatedTag {...coach} />
                </span>
              </div>
              <div class="button-row">
                <a
                  class="button"
                  href="/recordings"
                  aria-label={words.coaches.recordingsOf(isolated(coach.name))}
                  onClick={() => lookForLeader(coach.name)}
                >
                  {words.coaches.recordings}
                </a>
                <a
                  class="button"
                  href={coachExportPath(coach.name)}
                  download
                  aria-label={words.coaches.takeAlongWhat(isolated(coach.name))}
                >
                  {words.takeAlong}
                </a>
                <button
                  type="button"
                  class="button button--quiet"
                  aria-label={words.coaches.eraseWhat(isolated(coach.name))}
                  onClick={() => props.onErase(coach)}
                >
                  {words.erase}
                </button>
              </div>
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}
