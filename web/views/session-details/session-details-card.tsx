// Notes on one athlete's session under its traces: how hard it was, with whom, where, how they slept, ate and felt, and tags;
// and whose session it is, where it was recorded under the wrong name.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { noDetails, type SessionDetails, sessionDetailsSchema } from '../../../shared/session-details.ts';
import type { Athlete, SessionView } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { useDraft } from '../../app/use-draft.ts';
import { DraftTaken } from '../../components/draft-taken.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { detailsInShort } from '../../state/details-words.ts';
import { DetailsFields } from './details-fields.tsx';
import { ReassignPart } from './reassign-part.tsx';
import './session-details.css';

export interface SessionDetailsCardProps {
  readonly session: SessionView;
  readonly athlete: Pick<Athlete, 'athleteId' | 'name'>;
  readonly onReassigned: () => void;
}

export function SessionDetailsCard({ session, athlete, onReassigned }: SessionDetailsCardProps) {
  const { text, http, hub } = useApp();
  const words = text.weeksMore.details;
  const { sessionId } = session;
  const saved = useSignal<SessionDetails | null>(null);
  const said = useSignal('');
  const problem = useSignal<string | null>(null);
  const giving = useSignal(false);
  const draft = useDraft({
    key: `details ${sessionId} ${athlete.athleteId}`,
    schema: sessionDetailsSchema,
    athleteId: athlete.athleteId,
    name: words.title,
    path: `/recordings/${sessionId}`,
  });
  const written = useSignal<SessionDetails>(draft.kept ?? noDetails);
  useEffect(() => {
    let current = true;
    void http.sessionDetails(sessionId, athlete.athleteId).then((answer) => {
      if (!current) return;
      if (!answer.ok) {
        problem.value = answer.reason;
        return;
      }
      saved.value = answer.value.details;
      written.value = draft.kept ?? answer.value.details;
    });
    return () => {
      current = false;
    };
  }, [sessionId, athlete.athleteId]);
  const change = (details: SessionDetails) => {
    written.value = details;
    said.value = '';
    draft.keep(details);
  };
  const save = async () => {
    if (!sessionDetailsSchema.safeParse(written.value).success) {
      problem.value = words.tooMany;
      return;
    }
    const sent = written.value;
    const answer = await http.saveSessionDetails(sessionId, athlete.athleteId, sent);
    problem.value = answer.ok ? null : words.failed(answer.reason);
    if (!answer.ok) return;
    saved.value = answer.value.details;
    // What was typed since is not saved, and stays.
    if (written.value !== sent) return;
    draft.settle();
    written.value = answer.value.details;
    said.value = words.saved;
  };
  const short = saved.value === null ? [] : detailsInShort(saved.value, text);
  const mayReassign = hub.role.value === 'coach' && session.status !== 'recording';
  return (
    <section class="step session-details">
      <details class="explain" open={draft.kept !== null}>
        <summary>
          {words.title}: {short.length === 0 ? words.nothing : short.join(' \u00b7 ')}
        </summary>
        <form
          class="session-details-form"
          onSubmit={(event) => {
            event.preventDefault();
            void save();
          }}
        >
          <DraftTaken
            at={draft.keptAt}
            onDrop={() => {
              draft.settle();
              written.value = saved.value ?? noDetails;
            }}
          />
          {/* What was noted before is not there yet: what is typed now would stand in its place. */}
          <fieldset disabled={saved.value === null}>
            <DetailsFields details={written.value} onChange={change} />
          </fieldset>
          <ProblemNotice problem={problem.value} />
          <p class="button-row">
            <button type="submit" class="button button--primary" disabled={!hub.mayAct.value}>
              {words.save}
            </button>
            {mayReassign ? (
              <button type="button" class="button button--quiet" onClick={() => (giving.value = true)}>
                {text.weeksMore.reassign.open}
              </button>
            ) : null}
            <span role="status">{said.value}</span>
          </p>
        </form>
      </details>
      {giving.value ? (
        <ReassignPart
          session={session}
          athlete={athlete}
          onClose={() => (giving.value = false)}
          onReassigned={onReassigned}
        />
      ) : null}
    </section>
  );
}
