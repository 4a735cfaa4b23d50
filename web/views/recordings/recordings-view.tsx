// The list of recordings, newest first.

import { signal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { SessionsBody } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import {
  athletesOfList,
  filteredRecordings,
  type ListedRecording,
  localDayText,
  noFilter,
  pageOf,
  type RecordingFilter,
} from '../../state/recording-filter.ts';
import { EraseAthlete } from './erase-athlete.tsx';
import { RecordingFilters } from './recording-filters.tsx';
import { ListPages, RecordingList } from './recording-list.tsx';
import { useBackUp } from './use-back-up.ts';
import './recordings.css';

export function RecordingsView() {
  const { text, http, hub } = useApp();
  const words = text.recordings;
  useDocumentTitle(words.title);
  const sessions = useSignal<SessionsBody['sessions'] | null>(null);
  const problem = useSignal<string | null>(null);
  const load = async () => {
    const answer = await http.sessions();
    problem.value = answer.ok ? null : words.failed(answer.reason);
    if (answer.ok) sessions.value = answer.value.sessions;
  };
  const erasing = useSignal(false);
  const { backingUp, backUp } = useBackUp((reason) => {
    problem.value = reason;
  });
  const live = hub.link.value === 'live';
  const status = hub.session.value?.status;
  useEffect(() => void load(), [live, status]);
  return (
    <article class="sheet sheet--wide">
      <h1>{words.title}</h1>
      {hub.role.value === 'coach' ? (
        <p class="recording-actions">
          <a class="button" href="/import">
            <span class="file-format">
              {text.import.open} <span class="wide-only">{text.import.openWhat}</span>
            </span>
          </a>
          <button type="button" class="button" disabled={backingUp.value} onClick={() => void backUp()}>
            <span class="file-format">
              {backingUp.value ? text.import.backingUp : text.import.backup}{' '}
              <span class="wide-only">{text.import.backupWhat}</span>
            </span>
          </button>
          <a class="button" href="/backups">
            {text.backups.open}
          </a>
          <a class="button" href="/bin">
            {text.bin.open}
          </a>
          <button type="button" class="button" onClick={() => (erasing.value = true)}>
            {text.erase.open}
          </button>
        </p>
      ) : (
        <p class="recording-actions">
          <a class="button" href="/bin">
            {text.bin.open}
          </a>
        </p>
      )}
      {erasing.value ? (
        <EraseAthlete
          sessions={sessions.value ?? []}
          onClose={() => (erasing.value = false)}
          onErased={() => void load()}
        />
      ) : null}
      <ProblemNotice problem={problem.value} onAgain={() => void load()} />
      {sessions.value === null && problem.value === null ? <Listing /> : null}
      {sessions.value?.length === 0 ? <p class="empty">{words.empty}</p> : null}
      {sessions.value === null || sessions.value.length === 0 ? null : (
        <FoundRecordings all={sessions.value} />
      )}
    </article>
  );
}

/** A list that takes its time says so, and for how long. */
function Listing() {
  const { text, timers } = useApp();
  const words = text.recordings;
  const seconds = useSignal(0);
  useEffect(() => {
    const beganAtMs = timers.nowMs();
    return timers.every(1_000, () => {
      seconds.value = Math.round((timers.nowMs() - beganAtMs) / 1_000);
    });
  }, []);
  return <p class="hint">{seconds.value < 3 ? words.loading : words.stillListing(seconds.value)}</p>;
}

// Kept while the page is open, so that whoever comes back from a recording finds the same place.
const filter = signal<RecordingFilter>(noFilter);
const pageNumber = signal(0);

function FoundRecordings({ all }: { readonly all: readonly ListedRecording[] }) {
  const { text } = useApp();
  const words = text.list;
  const found = filteredRecordings(all, filter.value, text.recordings.untitled, localDayText);
  const { page, pages, items } = pageOf(found, pageNumber.value);
  const turn = (to: number) => {
    pageNumber.value = to;
    scrollTo(0, 0);
  };
  return (
    <>
      <RecordingFilters
        filter={filter}
        athletes={athletesOfList(all)}
        shownCount={found.length}
        wholeCount={all.length}
        onChange={() => (pageNumber.value = 0)}
      />
      {found.length === 0 ? <p class="empty">{words.none}</p> : <RecordingList recordings={items} />}
      <ListPages page={page} pages={pages} onPage={turn} />
    </>
  );
}
