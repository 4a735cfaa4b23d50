// Restoring from a file: chosen, sent, looked at by the hub, told beside what is there now, and taken only after that was
// confirmed. What is there is moved aside by the hub.

import { useSignal } from '@preact/signals';
import { useLayoutEffect } from 'preact/hooks';
import type { LookedBody } from '../../../shared/backups.ts';
import { useApp } from '../../app/app-context.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { Tick } from '../../components/tick.tsx';
import { formatWallTime } from '../../state/format.ts';

type Step =
  | { readonly at: 'choosing' }
  | { readonly at: 'busy'; readonly what: 'sending' | 'looking' }
  | { readonly at: 'locked'; readonly restoreId: string }
  | { readonly at: 'looked'; readonly restoreId: string; readonly looked: LookedBody }
  /** The hub stops and starts again: it was this one that was asked. */
  | { readonly at: 'restoring'; readonly hubRunId: string | null }
  | { readonly at: 'done' };

export function RestoreBackup() {
  const { text, http, hub } = useApp();
  const words = text.backups;
  const step = useSignal<Step>({ at: 'choosing' });
  const problem = useSignal<string | null>(null);
  const passphrase = useSignal('');
  const certain = useSignal(false);
  const hubRunId = hub.hubRunId.value;
  // By which hub it is, not by its silence: one that is back within two seconds was never called silent.
  useLayoutEffect(() => {
    if (step.value.at === 'restoring' && step.value.hubRunId !== hubRunId) step.value = { at: 'done' };
  }, [hubRunId]);
  const look = async (restoreId: string, secret: string | null) => {
    step.value = { at: 'busy', what: 'looking' };
    const answer = await http.lookAtBackup(restoreId, secret);
    problem.value = answer.ok ? null : answer.reason;
    certain.value = false;
    if (answer.ok) step.value = { at: 'looked', restoreId, looked: answer.value };
    else step.value = secret === null ? { at: 'choosing' } : { at: 'locked', restoreId };
  };
  const choose = async (file: File | undefined) => {
    if (file === undefined) return;
    problem.value = null;
    step.value = { at: 'busy', what: 'sending' };
    const answer = await http.offerBackup(file);
    if (!answer.ok) {
      problem.value = answer.reason;
      step.value = { at: 'choosing' };
    } else if (answer.value.locked) step.value = { at: 'locked', restoreId: answer.value.restoreId };
    else await look(answer.value.restoreId, null);
  };
  const begin = async (restoreId: string) => {
    step.value = { at: 'restoring', hubRunId: hub.hubRunId.value };
    const answer = await http.beginRestore(restoreId);
    // One that the stopping hub has not given any more says nothing.
    if (answer.ok || step.value.at !== 'restoring') return;
    problem.value = answer.reason;
    step.value = { at: 'choosing' };
  };
  const now = step.value;
  if (hub.recording.value) return <p class="notice notice--strong">{words.running}</p>;
  if (now.at === 'done') return <p role="status">{words.done}</p>;
  if (now.at === 'restoring') return <p role="status">{words.restoring}</p>;
  return (
    <>
      <p>{words.restoreText}</p>
      <label class="field">
        <span>{words.file}</span>
        <input
          type="file"
          disabled={now.at === 'busy'}
          onChange={(event) => void choose(event.currentTarget.files?.[0])}
        />
      </label>
      <p role="status">{now.at === 'busy' ? words[now.what] : ''}</p>
      <ProblemNotice problem={problem.value} />
      {now.at !== 'locked' ? null : (
        <form
          class="backup-unlock"
          onSubmit={(event) => {
            event.preventDefault();
            void look(now.restoreId, passphrase.value);
          }}
        >
          <label class="field">
            <span>{words.passphrase}</span>
            <input
              type="password"
              autocomplete="off"
              value={passphrase.value}
              onInput={(event) => (passphrase.value = event.currentTarget.value)}
            />
          </label>
          <button type="submit" class="button button--primary" disabled={passphrase.value === ''}>
            {words.unlock}
          </button>
        </form>
      )}
      {now.at !== 'looked' ? null : (
        <>
          <Looked looked={now.looked} />
          <Tick strong checked={certain.value} onChange={(on) => (certain.value = on)}>
            {words.certain}
          </Tick>
          <button
            type="button"
            class="button button--primary"
            disabled={!certain.value}
            onClick={() => void begin(now.restoreId)}
          >
            {words.begin}
          </button>
        </>
      )}
    </>
  );
}

function Looked({ looked }: { readonly looked: LookedBody }) {
  const { text } = useApp();
  const words = text.backups;
  const { sessionCount, athleteCount, newestWallAtMs, present } = looked;
  return (
    <dl class="backup-beside">
      <dt>{words.inFile}</dt>
      <dd>
        {words.holds(sessionCount, athleteCount)}
        {newestWallAtMs === null ? '' : `, ${words.newest(formatWallTime(newestWallAtMs))}`}
      </dd>
      <dt>{words.here}</dt>
      <dd>{words.holds(present.sessionCount, present.athleteCount)}</dd>
    </dl>
  );
}
