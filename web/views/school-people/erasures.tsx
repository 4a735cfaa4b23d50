// Who was erased how far: the archive, the message server and each hub, with when; never who it was.

import type { SchoolErasure } from '../../../shared/school/pages.ts';
import { useApp } from '../../app/app-context.ts';
import { formatWallTime, isolated } from '../../state/format.ts';

export function Erasures({ erasures }: { readonly erasures: readonly SchoolErasure[] }) {
  const { text } = useApp();
  const words = text.schoolPeople.erasures;
  const { by } = text.schoolPeople.merges;
  const stateOf = (atWallMs: number | null): string =>
    atWallMs === null ? words.waiting : words.done(formatWallTime(atWallMs));
  return (
    <section class="step">
      <h2>{words.title}</h2>
      <p class="hint">{erasures.length === 0 ? words.none : words.lead}</p>
      <ul class="school-people-list" hidden={erasures.length === 0}>
        {erasures.map((each) => (
          <li key={each.erasureId}>
            <dl class="school-erasure">
              <dt>{words.asked}</dt>
              <dd>
                {words.askedBy(
                  formatWallTime(each.askedAtWallMs),
                  each.askedAtRoom === null
                    ? by(isolated(each.askedBy))
                    : words.atHub(isolated(each.askedAtRoom)),
                )}
              </dd>
              <dt>{words.archive}</dt>
              <dd>{stateOf(each.archiveDoneAtWallMs)}</dd>
              <dt>{words.stream}</dt>
              <dd class={each.streamDoneAtWallMs === null ? 'is-waiting' : ''}>
                {stateOf(each.streamDoneAtWallMs)}
              </dd>
              {each.hubs.map(({ hub, room, doneAtWallMs }) => [
                <dt key={`${hub} room`}>{isolated(room)}</dt>,
                <dd key={hub} class={doneAtWallMs === null ? 'is-waiting' : ''}>
                  {stateOf(doneAtWallMs)}
                </dd>,
              ])}
            </dl>
          </li>
        ))}
      </ul>
    </section>
  );
}
