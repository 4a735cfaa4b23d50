// The training log: what was trained without sensors, with its cautions, and advice to talk over with an instructor.

import { useSignal } from '@preact/signals';
import type { TrainingEntry } from '../../../shared/training-log.ts';
import { startTiming } from '../../../src/training/lap-timing.ts';
import { useApp } from '../../app/app-context.ts';
import { useDelete } from '../../app/use-delete.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { AthleteField } from '../../components/athlete-field.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { LapTimer } from '../log/lap-timer.tsx';
import { EntryForm } from './entry-form.tsx';
import { EntryList } from './entry-list.tsx';
import { buddyIsMissing, timedKindOf, withoutEmptyBuddy } from './new-entry.ts';
import { TrainingAdvice } from './training-advice.tsx';
import { useEntryDraft } from './use-entry-draft.ts';
import { useTrainingLog } from './use-training-log.ts';

export function TrainingView() {
  const { text, hub, takeBacks } = useApp();
  const words = text.plans.training;
  useDocumentTitle(words.title);
  const problem = useSignal<string | null>(null);
  const written = useEntryDraft((reason) => {
    problem.value = words.loadFailed(reason);
  });
  const { athletes, athleteId, draft, timing } = written;
  const discard = useDelete();
  const log = useTrainingLog(athleteId, (found) => {
    problem.value = found;
  });
  const save = async (entry: TrainingEntry) => {
    if (buddyIsMissing(entry)) {
      problem.value = words.buddyNeeded;
      return;
    }
    const saved = await log.save(withoutEmptyBuddy(entry));
    problem.value = saved.ok ? null : saved.reason;
    if (saved.ok) written.saved(entry);
  };
  const remove = async (entry: TrainingEntry) => {
    const reason = await discard(
      () => log.remove(entry),
      text.takeBack.entryDeleted,
      () => log.reload(),
    );
    if (reason !== null) problem.value = reason;
  };
  const leave = (entry: TrainingEntry) => {
    const isChange = written.isChange.value;
    written.beginAnew();
    takeBacks.offer({
      done: text.takeBack.draftDropped,
      actions: [
        {
          label: text.takeBack.bringBack,
          act: async () => {
            if (isChange) written.edit(entry);
            written.change(entry);
            return null;
          },
        },
      ],
    });
  };
  const beginTiming = (entry: TrainingEntry) => {
    const kind = timedKindOf(entry);
    if (kind === undefined) return;
    if (buddyIsMissing(entry)) {
      problem.value = text.history.timer.buddyFirst;
      return;
    }
    problem.value = null;
    written.change(withoutEmptyBuddy(entry));
    timing.value = startTiming(kind);
  };
  const entry = draft.value;
  if (entry !== null && timing.value !== null)
    return (
      <article class="sheet training">
        <h1>{words.title}</h1>
        <LapTimer
          entry={entry}
          begun={timing.value}
          onCancel={() => {
            timing.value = null;
          }}
          onDone={(timed) => {
            written.change(timed);
            timing.value = null;
          }}
        />
      </article>
    );
  const mayWrite = entry !== null && hub.mayAct.value;
  return (
    <article class="sheet training">
      <h1>{words.title}</h1>
      <p>{words.lead}</p>
      {mayWrite ? null : <ProblemNotice problem={problem.value} />}
      <AthleteField
        label={words.athlete}
        athletes={athletes.value}
        athleteId={athleteId.value}
        onChange={written.chooseAthlete}
      />
      <TrainingAdvice advice={log.advice.value} />
      {mayWrite ? (
        <EntryForm
          entry={entry}
          isChange={written.isChange.value}
          draftAt={written.draftAt.value}
          problem={problem.value}
          onChange={written.change}
          onKind={written.changeKind}
          onLeave={() => leave(entry)}
          onTime={() => beginTiming(entry)}
          onSave={() => void save(entry)}
        />
      ) : null}
      <EntryList
        entries={log.entries.value}
        onChange={(each) => {
          written.edit(each);
          document.querySelector('.training-form')?.scrollIntoView({ block: 'start' });
          document.querySelector<HTMLElement>('.training-form input, .training-form select')?.focus();
        }}
        onRemove={(each) => void remove(each)}
      />
    </article>
  );
}
