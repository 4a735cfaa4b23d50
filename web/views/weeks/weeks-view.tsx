// One athlete over weeks: whose they are, and what stands there while there is nothing.

import { useSignal } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { AthleteField } from '../../components/athlete-field.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { useAthletes } from '../../components/use-athletes.ts';
import { AthleteWeeks } from './athlete-weeks.tsx';
import { NoWeeks } from './no-weeks.tsx';
import './weeks.css';

export function WeeksView({ athleteId: given }: { readonly athleteId: string | null }) {
  const { text, router } = useApp();
  const words = text.history.weeks;
  useDocumentTitle(words.title);
  const problem = useSignal<string | null>(null);
  const athletes = useAthletes((reason) => {
    problem.value = words.failed(reason);
  });
  const known = athletes.value ?? [];
  const athleteId = given ?? known[0]?.athleteId ?? null;
  return (
    <article class="sheet sheet--wide weeks">
      <h1>{words.title}</h1>
      <p class="hint">{words.lead}</p>
      <ProblemNotice problem={problem.value} />
      {known.length > 1 ? (
        <AthleteField
          label={words.athlete}
          narrow
          athletes={known}
          athleteId={athleteId ?? ''}
          onChange={(id) => router.go(`/weeks/${id}`)}
        />
      ) : null}
      {athletes.value?.length === 0 && given === null ? <NoWeeks /> : null}
      {athleteId === null ? null : <AthleteWeeks key={athleteId} athleteId={athleteId} />}
    </article>
  );
}
