// People and sensors of a session that runs: who comes later, who leaves, who wears what, and whose a sensor is.

import { useComputed, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Athlete } from '../../../shared/views.ts';
import type { Result } from '../../../src/result.ts';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { AthleteField } from '../../components/athlete-field.tsx';
import { HelpLink } from '../../components/help-link.tsx';
import { MissingStatements } from '../../components/missing-statements.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { ExchangedPairs } from './exchanged-pairs.tsx';
import { Present } from './present.tsx';
import { WhoWears } from './who-wears.tsx';
import { WhoseIsThis } from './whose-is-this.tsx';
import './people.css';

export function PeopleView() {
  const { text, hub, http } = useApp();
  const words = text.course.people;
  useDocumentTitle(words.title);
  const athletes = useSignal<readonly Athlete[]>([]);
  const problem = useSignal<string | null>(null);
  const live = hub.link.value === 'live';
  useEffect(() => {
    if (!live) return;
    void http.athletes().then((answer) => {
      if (answer.ok) athletes.value = answer.value.athletes;
      else problem.value = answer.reason;
    });
  }, [live]);
  const take = async (asked: Promise<Result<unknown>>) => {
    const answer = await asked;
    problem.value = answer.ok ? null : answer.reason;
  };
  return (
    <article class="sheet people-page">
      <h1>{words.title}</h1>
      <ProblemNotice problem={problem.value} />
      {hub.recording.value ? (
        <>
          <ExchangedPairs take={take} />
          <section class="step">
            <h2>{words.inSession}</h2>
            <Present take={take} />
          </section>
          <section class="step">
            <h2>{words.later}</h2>
            <ComesLater athletes={athletes.value} take={take} />
          </section>
        </>
      ) : (
        <p class="hint">{words.none}</p>
      )}
      <section class="step">
        <h2>{words.sensors}</h2>
        <p class="hint">{words.sensorsHelp}</p>
        <HelpLink chapter="sensors" section="finding" label={text.help.toSensors} />
        <WhoWears athletes={athletes.value} take={take} />
      </section>
      <section class="step">
        <h2>{words.whose}</h2>
        <WhoseIsThis athletes={athletes.value} take={take} />
      </section>
    </article>
  );
}

export interface Taking {
  /** Says what the hub refused. */
  readonly take: (asked: Promise<Result<unknown>>) => Promise<void>;
}

function ComesLater({ athletes, take }: Taking & { readonly athletes: readonly Athlete[] }) {
  const { text, hub, http } = useApp();
  const words = text.course.people;
  const chosen = useSignal('');
  const present = useComputed(() => new Set(hub.session.value?.athleteIds ?? []));
  const others = athletes.filter(({ athleteId }) => !present.value.has(athleteId));
  if (others.length === 0) return <p class="hint">{words.laterNone}</p>;
  const isThere = others.some(({ athleteId }) => athleteId === chosen.value);
  return (
    <div class="comes-later">
      <AthleteField
        label={words.laterWho}
        athletes={others}
        athleteId={isThere ? chosen.value : ''}
        nobody={words.laterNobody}
        narrow
        onChange={(athleteId) => (chosen.value = athleteId)}
      />
      <button
        type="button"
        class="button"
        disabled={!isThere}
        onClick={() => void take(http.course.joinSession(chosen.value))}
      >
        {words.joins}
      </button>
      <p class="hint">{words.joinsHelp}</p>
      {isThere ? <MissingStatements athleteIds={[chosen.value]} /> : null}
    </div>
  );
}
