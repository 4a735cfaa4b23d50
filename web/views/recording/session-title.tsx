// What a recording is called and who led it, and saying otherwise.

import { useSignal } from '@preact/signals';
import type { SessionView } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { leadersAsTyped, typedLeaders } from '../../state/leader-names.ts';

/** One function, so that it is called when the field comes, not at each letter typed into the other. */
const focusOn = (input: HTMLInputElement | null): void => input?.focus();

export interface SessionTitleProps {
  readonly session: SessionView;
  readonly onTitled: (titled: Pick<SessionView, 'title' | 'leaders'>) => void;
}

export function SessionTitle({ session, onTitled }: SessionTitleProps) {
  const { text, http, hub } = useApp();
  const words = text.names;
  /** Null while nobody is changing it. */
  const typed = useSignal<string | null>(null);
  const ledBy = useSignal('');
  const problem = useSignal<string | null>(null);
  const mayTitle = hub.role.value === 'coach' && session.status !== 'recording';
  const save = async (event: Event) => {
    event.preventDefault();
    const { sessionId, leaders: before } = session;
    const sent = { title: typed.value ?? '', ledBy: ledBy.value };
    const title = await http.titleSession(sessionId, sent.title);
    const led =
      sent.ledBy === leadersAsTyped(before)
        ? { ok: true as const, value: { leaders: before } }
        : await http.nameLeaders(sessionId, typedLeaders(sent.ledBy) ?? []);
    problem.value = title.ok ? (led.ok ? null : led.reason) : title.reason;
    if (!title.ok || !led.ok) return;
    // What was typed since is not saved, and stays.
    if (typed.value === sent.title && ledBy.value === sent.ledBy) typed.value = null;
    onTitled({ title: title.value.title, leaders: led.value.leaders });
  };
  const open = () => {
    typed.value = session.title;
    ledBy.value = leadersAsTyped(session.leaders);
  };
  if (typed.value === null)
    return (
      <div class="session-title">
        <h1>{session.title || text.recordings.untitled}</h1>
        {mayTitle ? (
          <button type="button" class="button button--quiet" onClick={open}>
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
          ref={focusOn}
          value={typed.value}
          onInput={(event) => (typed.value = event.currentTarget.value)}
          onKeyDown={(event) => {
            if (event.key === 'Escape') typed.value = null;
          }}
        />
      </label>
      <label class="field">
        <span>{words.ledBy}</span>
        <input
          type="text"
          maxLength={400}
          value={ledBy.value}
          onInput={(event) => (ledBy.value = event.currentTarget.value)}
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
