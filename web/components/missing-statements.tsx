// Who of those that are to train has not consented to be recorded, or has not lately said to be fit. Told, never forbidden.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Participant } from '../../shared/course.ts';
import { useApp } from '../app/app-context.ts';
import { useInOrder } from '../app/use-in-order.ts';
import { formatList, isolated } from '../state/format.ts';
import { byMatter, dayOf, missingStatements } from '../state/statements.ts';

export function MissingStatements({ athleteIds }: { readonly athleteIds: readonly string[] }) {
  const { text, http, hub } = useApp();
  const words = text.course.papers;
  const participants = useSignal<readonly Participant[]>([]);
  const live = hub.link.value === 'live' && hub.mayAct.value;
  const ask = useInOrder();
  useEffect(() => {
    if (!live) return;
    const isNews = ask();
    void http.course.participants().then((answer) => {
      if (isNews() && answer.ok) participants.value = answer.value.participants;
    });
  }, [live, athleteIds.join()]);
  const missing = missingStatements(
    participants.value.filter(({ athleteId }) => athleteIds.includes(athleteId)),
    dayOf(Date.now()),
  );
  if (missing.length === 0) return null;
  return (
    <div class="notice" role="status">
      <ul class="plain-list">
        {byMatter(missing).map(({ what, names, onDay }) => (
          <li key={`${what} ${onDay}`}>
            {words.missing[what](formatList(names.map(isolated)), names.length, onDay)}
          </li>
        ))}
      </ul>
      <p class="hint">{words.missingHelp}</p>
      <a class="button button--quiet" href="/course">
        {words.nav}
      </a>
    </div>
  );
}
