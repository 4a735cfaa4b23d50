// What a recording is called, and calling it something else.

import { useSignal } from '@preact/signals';
import type { SessionView } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';

export interface SessionTitleProps {
  readonly session: SessionView;
  readonly onTitled: (title: string) => void;
}

export function SessionTitle({ session, onTitled }: SessionTitleProps) {
  const { text, http, hub } = useApp();
  const words = text.names;
  /** Null while nobody is changing it. */
  const typed = useSignal<string | null>(null);
  const problem = useSignal<string | null>(null);
  const mayTitle = hub.role.value === 'coach' && session.status !== 'recording';
  const save = async (event: Event) => {
    event.preventDefault();
    const answer = await http.titleSession(session.sessionId, typed.value ?? '');
    problem.value = answer.ok ? null : answer.reason;
    if (!answer.ok) return;
    typed.value = null;
    onTitled(answer.value.title);
  };
  if (typed.value === null)
    return (
      <div class="session-title">
        <h1>{session.title || text.recordings.untitled}</h1>
        {mayTitle ? (
          <button type="button" class="button button--quiet" onClick={() => (typed.value = session.title)}>
            {words.editTitle}
          </button>
        ) : null}
      </div>
    );
  return (
    <form class="session-title" onSubmit={(event) => void save(event)}>
      <label class="field">
        <span>{words.sessionTitle}</span>
        <input
          type="text"
          maxLength={120}
          ref={(input) => input?.focus()}
          value={typed.value}
          onInput={(event) => (typed.value = event.currentTarget.value)}
          onKeyDown={(event) => {
            if (event.key === 'Escape') typed.value = null;
          }}
        />
      </label>
      <button type="submit" class="button button--primary">
        {words.saveTitle}
      </button>
      <button type="button" class="button" onClick={() => (typed.value = null)}>
        {text.cancel}
      </button>
      <ProblemNotice problem={problem.value} />
    </form>
  );
}
