// A page of the list of recordings, each row with its figures; the pages before and after.

import type { ListedRecording } from '../../../src/sessions/found-recordings.ts';
import { useApp } from '../../app/app-context.ts';
import { FiguresMark } from '../../components/figures-mark.tsx';
import { detailsInShort } from '../../state/details-words.ts';
import { formatDuration, formatWallTime, formatWhole, isolated } from '../../state/format.ts';
import { leadersAsSaid } from '../../state/leader-names.ts';

/** A row stays a row. */
const mostNoted = 6;

export function RecordingList({ recordings }: { readonly recordings: readonly ListedRecording[] }) {
  return (
    <ol class="recording-list">
      {recordings.map((recording) => (
        <li key={recording.session.sessionId}>
          <RecordingRow recording={recording} />
        </li>
      ))}
    </ol>
  );
}

function RecordingRow({ recording }: { readonly recording: ListedRecording }) {
  const { text, rooms } = useApp();
  const words = text.recordings;
  const { session, athleteNames, holdCount, longestHoldMs, lowestSpo2Percent, figuresBy, durationMs } =
    recording;
  const figures = [
    words.holdCount(holdCount),
    ...(longestHoldMs === null ? [] : [text.list.longest(formatDuration(longestHoldMs))]),
    ...(lowestSpo2Percent === null ? [] : [text.list.lowest(`${formatWhole(lowestSpo2Percent)}\u202f%`)]),
  ];
  const { details, plans } = recording;
  // Of several people, whose it is stands in the recording.
  const room = rooms.value?.rooms.value.find(({ hub }) => session.sessionId.startsWith(`${hub}.`));
  const noted = [
    ...(room === undefined ? [] : [isolated(room.told.value.name)]),
    ...(session.leaders.length === 0 ? [] : [text.names.ledByLine(leadersAsSaid(session.leaders))]),
    ...plans.map(isolated),
    ...new Set(details.flatMap((each) => detailsInShort(each.details, text))),
  ];
  return (
    <a href={`/recordings/${session.sessionId}`}>
      <span class="recording-when">{formatWallTime(session.startedWallAtMs)}</span>
      <span class="recording-who">{athleteNames.map(isolated).join(', ')}</span>
      <span class="recording-what">{session.title || words.untitled}</span>
      <span class="recording-length">
        {formatDuration(durationMs)} {'\u00b7'} {figures.join(' \u00b7 ')}
        {session.status === 'recording' ? null : <FiguresMark figuresBy={figuresBy} />}
      </span>
      <span class="recording-tags">
        {session.status === 'ended' ? null : (
          <small class="tag tag--strong">{words.status[session.status]}</small>
        )}
        {session.simulated ? <small class="tag tag--strong">{text.simulatedBand}</small> : null}
      </span>
      {noted.length === 0 ? null : (
        <small class="recording-noted">{noted.slice(0, mostNoted).join(' \u00b7 ')}</small>
      )}
    </a>
  );
}

export interface ListPagesProps {
  /** Counted from 0. */
  readonly page: number;
  readonly pages: number;
  readonly onPage: (page: number) => void;
}

export function ListPages({ page, pages, onPage }: ListPagesProps) {
  const { text } = useApp();
  const words = text.list;
  if (pages < 2) return null;
  return (
    <nav class="list-pages" aria-label={words.pages}>
      <button type="button" class="button" disabled={page === 0} onClick={() => onPage(page - 1)}>
        {words.newer}
      </button>
      <span role="status">{words.page(page + 1, pages)}</span>
      <button type="button" class="button" disabled={page === pages - 1} onClick={() => onPage(page + 1)}>
        {words.older}
      </button>
    </nav>
  );
}
