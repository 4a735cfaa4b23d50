// Earlier copies of recordings that hold what the shown copy has not: which, whose, how much, and each as a file. Nothing where
// there are none.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { AsideCopyView } from '../../../shared/school/pages.ts';
import { useApp } from '../../app/app-context.ts';
import { asideFilePath } from '../../connection/school-http.ts';
import { formatCount, formatList, formatWallTime, isolated } from '../../state/format.ts';

export function AsideCopies() {
  const { text, http } = useApp();
  const words = text.schoolHealth.aside;
  const copies = useSignal<readonly AsideCopyView[]>([]);
  const problem = useSignal<string | null>(null);
  useEffect(() => {
    void http.school.aside().then((answer) => {
      if (answer.ok) copies.value = answer.value.copies;
      else problem.value = words.failed(answer.reason);
    });
  }, []);
  if (problem.value !== null) return <p class="notice notice--strong">{problem.value}</p>;
  if (copies.value.length === 0) return null;
  return (
    <section class="step">
      <h2>{words.title}</h2>
      <p class="hint">{words.lead}</p>
      <ul class="aside-copies">
        {copies.value.map((each) => {
          const { sessionId, copy, room, title, startedWallAtMs, athleteNames } = each;
          const what = `${isolated(title || text.recordings.untitled)}, ${formatWallTime(startedWallAtMs)}`;
          return (
            <li key={`${sessionId} ${copy}`}>
              <div>
                <b>{what}</b>
                <span>
                  {isolated(room)}
                  {athleteNames.length === 0 ? '' : `: ${formatList(athleteNames.map(isolated))}`}
                </span>
                <span class="hint">
                  {words.packets(formatCount(each.packetCount), formatCount(each.shownPacketCount))}
                </span>
              </div>
              <div class="button-row">
                <a
                  class="button"
                  href={`/recordings/${encodeURIComponent(sessionId)}`}
                  aria-label={words.openWhat(what)}
                >
                  {words.open}
                </a>
                <a
                  class="button"
                  href={asideFilePath(sessionId, copy)}
                  download
                  aria-label={words.fileWhat(what)}
                >
                  {words.file}
                </a>
              </div>
            </li>
          );
        })}
      </ul>
    </section>
  );
}
