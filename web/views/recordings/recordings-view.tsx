// The list of recordings, newest first.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';
import { isSchool } from '../../app/is-school.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { EraseAthlete } from './erase-athlete.tsx';
import { RecordingFilters } from './recording-filters.tsx';
import { ListPages, RecordingList } from './recording-list.tsx';
import { useBackUp } from './use-back-up.ts';
import { useFoundRecordings } from './use-found-recordings.ts';
import './recordings.css';

export function RecordingsView() {
  const { text, hub } = useApp();
  const words = text.recordings;
  useDocumentTitle(words.title);
  const { fields, found, problem, look, turn, again } = useFoundRecordings();
  const body = found.value;
  const erasing = useSignal(false);
  const { backingUp, backUp } = useBackUp((reason) => {
    problem.value = reason;
  });
  const live = hub.link.value === 'live';
  const status = hub.session.value?.status;
  useEffect(() => again(), [live, status]);
  return (
    <article class="sheet sheet--wide">
      <h1>{words.title}</h1>
      {isSchool() ? (
        <p class="hint">{text.rooms.recordingsHint}</p>
      ) : hub.role.value === 'coach' ? (
        <p class="recording-actions">
          <a class="button" href="/import">
            <Shortened long={text.import.open} short={text.import.openShort} />
          </a>
          <button type="button" class="button" disabled={backingUp.value} onClick={() => void backUp()}>
            {backingUp.value ? (
              text.import.backingUp
            ) : (
              <Shortened long={text.import.backup} short={text.import.backupShort} />
            )}
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
          inRecordings={body?.choices.athletes ?? []}
          onClose={() => (erasing.value = false)}
          onErased={again}
        />
      ) : null}
      <ProblemNotice problem={problem.value} onAgain={again} />
      {body === null && problem.value === null ? <Listing /> : null}
      {body?.wholeCount === 0 ? <p class="empty">{words.empty}</p> : null}
      {body === null || body.wholeCount === 0 ? null : (
        <>
          <RecordingFilters fields={fields} found={body} onChange={look} />
          {body.foundCount === 0 ? (
            <p class="empty">{text.list.none}</p>
          ) : (
            <RecordingList recordings={body.recordings} />
          )}
          <ListPages page={body.page} pages={body.pages} onPage={turn} />
        </>
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

/** Where there is little room the short words are seen, and the long ones still said. */
const Shortened = ({ long, short }: { readonly long: string; readonly short: string }) => (
  <span class="file-format">
    <span class="wide-only">{long}</span>
    <span class="narrow-only" aria-hidden="true">
      {short}
    </span>
  </span>
);
