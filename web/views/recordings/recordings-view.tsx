// The list of recordings, newest first.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { SessionsBody } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { formatDuration, formatWallTime } from '../../state/format.ts';
import { EraseAthlete } from './erase-athlete.tsx';
import './recordings.css';
import { isolated } from '../../state/format.ts';

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
  const backingUp = useSignal(false);
  const backUp = async () => {
    backingUp.value = true;
    const made = await http.makeBackup();
    backingUp.value = false;
    problem.value = made.ok ? null : made.reason;
    if (!made.ok) return;
    // A click of a download link: going to the address would end the page's connection in some browsers.
    const link = document.createElement('a');
    link.href = made.value;
    link.download = '';
    link.click();
  };
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
          <button type="button" class="button" onClick={() => (erasing.value = true)}>
            {text.erase.open}
          </button>
        </p>
      ) : null}
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
        <ol class="recording-list">
          {sessions.value.map(({ session, athleteNames, holdCount, durationMs }) => (
            <li key={session.sessionId}>
              <a href={`/recordings/${session.sessionId}`}>
                <span class="recording-when">{formatWallTime(session.startedWallAtMs)}</span>
                <span class="recording-who">{athleteNames.map(isolated).join(', ')}</span>
                <span class="recording-what">{session.title || words.untitled}</span>
                <span class="recording-length">
                  {formatDuration(durationMs)} {'\u00b7'} {words.holdCount(holdCount)}
                </span>
                <span class="recording-tags">
                  {session.status === 'ended' ? null : (
                    <small class="tag tag--strong">{words.status[session.status]}</small>
                  )}
                  {session.simulated ? <small class="tag tag--strong">{text.simulatedBand}</small> : null}
                </span>
              </a>
            </li>
          ))}
        </ol>
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
