// Saying that two are one person: who stays, what becomes of recordings and weeks, then joining them.

import { useSignal } from '@preact/signals';
import { useLayoutEffect } from 'preact/hooks';
import type { SchoolMergePreviewBody, SchoolPerson } from '../../../shared/school/pages.ts';
import { useApp } from '../../app/app-context.ts';
import { AthleteField } from '../../components/athlete-field.tsx';
import { Dialog } from '../../components/dialog.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { isolated } from '../../state/format.ts';
import { PersonLines, placesOf, SimulatedTag, whenOf } from './person-lines.tsx';

export interface MergePersonsProps {
  readonly persons: readonly SchoolPerson[];
  /** `taken` is '' where it is still to be chosen. */
  readonly first: { readonly kept: string; readonly taken: string };
  readonly onClose: () => void;
  readonly onDone: (sentence: string) => void;
}

const least = (one: number | null, other: number | null): number | null =>
  one === null ? other : other === null ? one : Math.min(one, other);
const most = (one: number | null, other: number | null): number | null =>
  one === null ? other : other === null ? one : Math.max(one, other);

export function MergePersons({ persons, first, onClose, onDone }: MergePersonsProps) {
  const { text, http } = useApp();
  const words = text.schoolPeople.merge;
  const pair = useSignal(first);
  const preview = useSignal<SchoolMergePreviewBody | null>(null);
  const problem = useSignal<string | null>(null);
  const joining = useSignal(false);
  const { kept, taken } = pair.value;
  // Before the paint: what one sees when pressing is the pair that is joined.
  useLayoutEffect(() => {
    preview.value = null;
    problem.value = null;
    if (taken === '') return undefined;
    let current = true;
    void http.school.previewMerge(kept, taken).then((answer) => {
      if (!current) return;
      if (answer.ok) preview.value = answer.value;
      else problem.value = answer.reason;
    });
    return () => {
      current = false;
    };
  }, [kept, taken]);
  const join = async (): Promise<void> => {
    joining.value = true;
    const answer = await http.school.merge(kept, taken);
    joining.value = false;
    if (answer.ok) onDone(words.done(isolated(preview.value?.kept.name ?? '')));
    else problem.value = words.failed(answer.reason);
  };
  const others = persons
    .filter(({ personId }) => personId !== kept)
    .map((person) => ({
      athleteId: person.personId,
      name: `${person.name}, ${placesOf(person, text.schoolPeople)}`,
    }))
    .toSorted((one, other) => one.name.localeCompare(other.name));
  return (
    <Dialog
      title={words.title}
      onClose={onClose}
      closeLabel={text.cancel}
      actions={
        <button
          type="button"
          class="button button--primary"
          disabled={preview.value === null || joining.value}
          onClick={() => void join()}
        >
          {words.confirm}
        </button>
      }
    >
      {first.taken === '' ? (
        <AthleteField
          label={words.with}
          athletes={others}
          athleteId={taken}
          nobody={words.choose}
          onChange={(id) => (pair.value = { kept, taken: id })}
        />
      ) : null}
      <ProblemNotice problem={problem.value} />
      {preview.value === null ? null : (
        <Preview
          preview={preview.value}
          onSwap={first.taken === '' ? null : () => (pair.value = { kept: taken, taken: kept })}
        />
      )}
    </Dialog>
  );
}

function Preview(props: { readonly preview: SchoolMergePreviewBody; readonly onSwap: (() => void) | null }) {
  const { text } = useApp();
  const words = text.schoolPeople.merge;
  const { kept, taken, overlapCount } = props.preview;
  const when = whenOf(
    least(kept.firstWallAtMs, taken.firstWallAtMs),
    most(kept.lastWallAtMs, taken.lastWallAtMs),
    text.schoolPeople,
  );
  const both = text.schoolPeople.counts(
    kept.sessionCount + taken.sessionCount,
    kept.holdCount + taken.holdCount,
  );
  return (
    <>
      <dl class="school-merge">
        {(
          [
            [words.kept, kept],
            [words.taken, taken],
          ] as const
        ).map(([label, person]) => (
          <div key={label}>
            <dt class="hint">{label}</dt>
            <dd class="school-person">
              <b>{isolated(person.name)}</b>
              <PersonLines person={person} />
            </dd>
          </div>
        ))}
      </dl>
      {props.onSwap === null ? null : (
        <button type="button" class="button button--quiet" onClick={props.onSwap}>
          {words.swap}
        </button>
      )}
      {overlapCount === 0 ? null : <p class="notice notice--strong">{words.overlap(overlapCount)}</p>}
      <p>
        {words.becomes(both, when)}
        <SimulatedTag
          sessionCount={kept.sessionCount + taken.sessionCount}
          simulatedCount={kept.simulatedCount + taken.simulatedCount}
        />
      </p>
      <p class="hint">{words.hubsKeep}</p>
    </>
  );
}
