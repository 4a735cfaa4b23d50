// Who somebody is at a school, in words: their rooms and what there is of them. Two of one name are told apart by it.

import type { SchoolCoach, SchoolPerson } from '../../../shared/school/pages.ts';
import { useApp } from '../../app/app-context.ts';
import type { Messages } from '../../i18n/en.ts';
import { formatList, formatWallDay, isolated } from '../../state/format.ts';

type Words = Messages['schoolPeople'];

/** Rooms, and what they are called there where that is another name. */
export function placesOf(person: SchoolPerson, words: Words): string {
  const places = person.athletes.map(({ hub, room, name }) => {
    const place = words.at(isolated(room), hub);
    return name === person.name ? place : words.atAs(place, isolated(name));
  });
  return formatList([...new Set(places)]);
}

export const roomsOf = ({ rooms }: Pick<SchoolCoach, 'rooms'>, words: Words): string =>
  formatList(rooms.map(({ hub, room }) => words.at(isolated(room), hub)));

export function whenOf(from: number | null, until: number | null, words: Words): string {
  return from === null || until === null
    ? words.noRecordings
    : words.between(formatWallDay(from), formatWallDay(until));
}

/** Beside a count of recordings; nothing where a person was measured in each. */
export function SimulatedTag(props: Pick<SchoolPerson, 'sessionCount' | 'simulatedCount'>) {
  const { text } = useApp();
  const { sessionCount, simulatedCount } = props;
  if (simulatedCount === 0) return null;
  const isOfSome = simulatedCount < sessionCount;
  return (
    <small class="tag tag--strong">
      {text.simulatedBand}
      {isOfSome ? `: ${text.schoolPeople.simulatedOf(simulatedCount, sessionCount)}` : ''}
    </small>
  );
}

export function PersonLines({ person }: { readonly person: SchoolPerson }) {
  const words = useApp().text.schoolPeople;
  const { sessionCount, holdCount, firstWallAtMs, lastWallAtMs } = person;
  return (
    <>
      <span class="school-person-places">{placesOf(person, words)}</span>
      <span class="hint">
        {words.counts(sessionCount, holdCount)}
        {sessionCount === 0 ? '' : ` \u00b7 ${whenOf(firstWallAtMs, lastWallAtMs, words)}`}
        <SimulatedTag {...person} />
      </span>
    </>
  );
}
