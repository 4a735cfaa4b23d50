// What happened in a recording, a line each; while it is corrected, a mark can be taken away.

import { useApp } from '../../app/app-context.ts';
import { HelpLink } from '../../components/help-link.tsx';
import { formatDuration } from '../../state/format.ts';
import type { Corrections } from '../correction/use-corrections.tsx';
import type { EventLine } from './event-lines.ts';

export interface EventListProps {
  readonly lines: readonly EventLine[];
  readonly removeMark: Corrections['removeMark'];
}

export function EventList({ lines, removeMark }: EventListProps) {
  const { text } = useApp();
  if (lines.length === 0) return <p class="hint">{text.recording.noEvents}</p>;
  return (
    <ol class="events">
      {lines.map(({ key, atMs, what, source, detail, priority, mark, alarmKind }) => {
        const remove = mark === null ? null : (removeMark?.(mark) ?? null);
        return (
          <li key={key} class={priority === null ? '' : `event-alarm event-alarm--${priority}`}>
            <span class="event-time">{formatDuration(atMs)}</span>
            <span>
              {what}
              {source === '' ? null : <strong class="event-source"> ({source})</strong>}
              {detail === '' ? null : <span class="hint"> {detail}</span>}
              {alarmKind === null ? null : (
                <>
                  <br />
                  <HelpLink
                    chapter="alarms"
                    section={alarmKind}
                    label={text.help.whatItMeans}
                    fullLabel={text.help.whatItMeansOf(text.alarm.kind[alarmKind])}
                  />
                </>
              )}
            </span>
            {remove === null ? null : (
              <button
                type="button"
                class="button button--quiet"
                aria-label={text.history.correction.removeMark(what, formatDuration(atMs))}
                onClick={remove}
              >
                {text.history.correction.remove}
              </button>
            )}
          </li>
        );
      })}
    </ol>
  );
}
