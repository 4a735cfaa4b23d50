// Who is known to the school and how far erasures are: asked when the page opens, after each change, and again while a hub
// has still to do something.

import { type ReadonlySignal, type Signal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { SchoolErasure, SchoolPersonsBody } from '../../../shared/school/pages.ts';
import { useApp } from '../../app/app-context.ts';
import { useInOrder } from '../../app/use-in-order.ts';

/** Our choice: a hub answers within seconds. */
const askEveryMs = 3_000;

export interface SchoolPeople {
  /** Null until the school has answered. */
  readonly people: ReadonlySignal<SchoolPersonsBody | null>;
  readonly erasures: ReadonlySignal<readonly SchoolErasure[] | null>;
  readonly problem: Signal<string | null>;
  /** What was done last, as a sentence. */
  readonly said: Signal<string>;
  readonly again: () => Promise<void>;
}

const isOpen = ({ streamDoneAtWallMs, hubs }: SchoolErasure): boolean =>
  streamDoneAtWallMs === null || hubs.some(({ doneAtWallMs }) => doneAtWallMs === null);

export function useSchoolPeople(): SchoolPeople {
  const { text, http, hub, timers } = useApp();
  const people = useSignal<SchoolPersonsBody | null>(null);
  const erasures = useSignal<readonly SchoolErasure[] | null>(null);
  const problem = useSignal<string | null>(null);
  const said = useSignal('');
  const ask = useInOrder();
  const askErasures = useInOrder();
  const again = async (): Promise<void> => {
    const isNews = ask();
    const isErasureNews = askErasures();
    const [persons, erased] = await Promise.all([http.school.persons(), http.school.erasures()]);
    if (!isNews()) return;
    problem.value = null;
    if (persons.ok) people.value = persons.value;
    else problem.value = text.schoolPeople.failed(persons.reason);
    if (!erased.ok) problem.value = text.schoolPeople.failed(erased.reason);
    else if (isErasureNews()) erasures.value = erased.value.erasures;
  };
  const live = hub.link.value === 'live';
  useEffect(() => void again(), [live]);
  useEffect(() => {
    const look = async (): Promise<void> => {
      if (erasures.value?.some(isOpen) !== true) return;
      const isNews = askErasures();
      const erased = await http.school.erasures();
      if (isNews() && erased.ok) erasures.value = erased.value.erasures;
    };
    return timers.every(askEveryMs, () => void look());
  }, []);
  return { people, erasures, problem, said, again };
}
