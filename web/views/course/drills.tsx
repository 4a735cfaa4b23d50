// Alarm drills: starting one, ending it, and who acknowledged earlier ones after how long.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Drill } from '../../../shared/course.ts';
import { useApp } from '../../app/app-context.ts';
import { useInOrder } from '../../app/use-in-order.ts';
import { formatAge, formatWallTime } from '../../state/format.ts';

export function Drills() {
  const { text, hub, http } = useApp();
  const words = text.course.papers;
  const drills = useSignal<readonly Drill[]>([]);
  const problem = useSignal<string | null>(null);
  const current = hub.drill.value;
  const ask = useInOrder();
  useEffect(() => {
    const isNews = ask();
    void http.course.drills().then((answer) => {
      if (isNews() && answer.ok) drills.value = answer.value.drills;
    });
  }, [current]);
  const take = async (asked: ReturnType<typeof http.course.startDrill>) => {
    const answer = await asked;
    problem.value = answer.ok ? null : answer.reason;
  };
  const past = drills.value.filter(({ drillId }) => drillId !== current?.drillId);
  return (
    <>
      <div class="recording-actions">
        {current === null ? (
          <button type="button" class="button" onClick={() => void take(http.course.startDrill())}>
            {words.drillStart}
          </button>
        ) : (
          <button type="button" class="button" onClick={() => void take(http.course.endDrill())}>
            {words.drillEnd}
          </button>
        )}
      </div>
      {problem.value === null ? null : (
        <p class="problem" role="alert">
          {problem.value}
        </p>
      )}
      {past.length === 0 ? <p class="hint">{words.drillsNone}</p> : null}
      <ul class="papers-list">
        {past.map(({ drillId, startedWallAtMs, ending, acknowledgements }) => (
          <li key={drillId}>
            <strong>{formatWallTime(startedWallAtMs)}</strong>{' '}
            <span class="hint">{ending === null ? words.drillOpen : words.drillEnding[ending]}</span>
            <p>
              {acknowledgements.length === 0
                ? words.drillNobody
                : acknowledgements
                    .map(({ name, afterMs }) => words.drillBy(name, formatAge(afterMs)))
                    .join(', ')}
            </p>
          </li>
        ))}
      </ul>
    </>
  );
}
