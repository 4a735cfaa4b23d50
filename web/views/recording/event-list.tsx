// What happened in a recording, a disclosure a group and a line each; while it is corrected, a mark can be taken away.

import { useApp } from '../../app/app-context.ts';
import { HelpLink } from '../../components/help-link.tsx';
import { formatDuration } from '../../state/format.ts';
import type { Corrections } from '../correction/use-corrections.tsx';
import type { EventGroup, EventLine } from './event-lines.ts';

/** Asked about first: open from the start. */
const openGroups: readonly EventGroup['key'][] = ['floor', 'high', 'medium', 'notes'];

export interface EventListProps {
  readonly groups: readonly EventGroup[];
  readonly removeMark: Corrections['removeMark'];
}

export function EventList({ groups, removeMark }: EventListProps) {
  const { text } = useApp();
  if (groups.length === 0) return <p class="hint">{text.recording.noEvents}</p>;
  return (
    <>
      {groups.map(({ key, title, lines }) => (
        // Marks that can be taken away are to be seen.
        <details
          key={`${key}-${removeMark === null}`}
          class="explain"
          open={openGroups.includes(key) || (key === 'marks' && removeMark !== null)}
        >
          <summary>{text.recorded.events.group(title, lines.length)}</summary>
          <ol class="events">
            {lines.map((line) => (
              <Line key={line.key} line={line} removeMark={removeMark} />
            ))}
          </ol>
        </details>
      ))}
    </>
  );
}

function Line({ line, removeMark }: { readonly line: EventLine } & Pick<EventListProps, 'removeMark'>) {
  const { text } = useApp();
  const { atMs, holdNumber, what, source, detail, priority, mark, alarmKind } = line;
  const remove = mark === null ? null : (removeMark?.(mark) ?? null);
  return (
    <li class={priority === null ? '' : `event-alarm event-alarm--${priority}`}>
      <span class="event-time">{formatDuration(atMs)}</span>
      <span>
        {what}
        {holdNumber === null ? null : (
          <small class="event-hold"> {text.recorded.events.inHold(holdNumber)}</small>
        )}
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
}
