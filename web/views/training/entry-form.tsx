// An entry of the training log as a form: what every kind has, the fields of its kind between, cautions before saving.

import type { TrainingEntry, TrainingEntryKind } from '../../../shared/training-log.ts';
import { entryCautions, isInWater } from '../../../src/training/entry-cautions.ts';
import { useApp } from '../../app/app-context.ts';
import { ChoiceField } from '../../components/choice-field.tsx';
import { DraftTaken } from '../../components/draft-taken.tsx';
import { ProblemNotice } from '../../components/problem-notice.tsx';
import { formatWallTime } from '../../state/format.ts';
import { TimedLengths } from '../log/timed-lengths.tsx';
import { WhenField } from '../log/when-field.tsx';
import { EntryFields } from './entry-fields.tsx';
import { entryKinds, timedKindOf, withoutEmptyBuddy } from './new-entry.ts';

export interface EntryFormProps {
  readonly entry: TrainingEntry;
  /** It is in the log already. */
  readonly isChange: boolean;
  /** When this, not saved then, was written; '' for one begun now. */
  readonly draftAt: string;
  readonly problem: string | null;
  readonly onChange: (entry: TrainingEntry) => void;
  readonly onKind: (kind: TrainingEntryKind) => void;
  /** To time it with lap buttons. */
  readonly onTime: () => void;
  readonly onSave: () => void;
  /** Without saving it. */
  readonly onLeave: () => void;
}

export function EntryForm(props: EntryFormProps) {
  const { entry, isChange, draftAt, problem, onChange, onKind, onTime, onSave, onLeave } = props;
  const { text, say } = useApp();
  const words = text.plans.training;
  return (
    <form
      class="step training-form"
      onSubmit={(event) => {
        event.preventDefault();
        onSave();
      }}
    >
      {isChange ? <h2>{words.changing(formatWallTime(entry.startedWallAtMs))}</h2> : null}
      <DraftTaken at={draftAt} onDrop={onLeave} />
      <ChoiceField
        label={words.kind}
        value={entry.kind}
        choices={entryKinds.map((kind) => [kind, words.kinds[kind]])}
        onChange={onKind}
      />
      <WhenField
        label={words.when}
        wallAtMs={entry.startedWallAtMs}
        onChange={(startedWallAtMs) => onChange({ ...entry, startedWallAtMs })}
      />
      <EntryFields entry={entry} onChange={onChange} />
      <CommonFields entry={entry} onChange={onChange} />
      <TimedLengths entry={entry} />
      {timedKindOf(entry) === undefined ? null : (
        <button type="button" class="button" onClick={onTime}>
          {text.history.timer.open}
        </button>
      )}
      {entryCautions(withoutEmptyBuddy(entry)).map((caution) => (
        <p class="problem" key={caution.code}>
          {say(caution)}
        </p>
      ))}
      <ProblemNotice problem={problem} />
      <div class="button-row">
        <button type="submit" class="button button--primary">
          {words.save}
        </button>
        {isChange ? (
          <button type="button" class="button" onClick={onLeave}>
            {words.leaveChange}
          </button>
        ) : null}
      </div>
    </form>
  );
}

/** Where, with whom, how hard, how it felt, and a note. */
function CommonFields({ entry, onChange }: Pick<EntryFormProps, 'entry' | 'onChange'>) {
  const { text } = useApp();
  const words = text.plans.training;
  return (
    <>
      <label class="field">
        <span>{words.place}</span>
        <input
          type="text"
          maxLength={120}
          value={entry.place}
          onInput={(event) => onChange({ ...entry, place: event.currentTarget.value })}
        />
      </label>
      <label class="field">
        <span>{words.buddy}</span>
        <input
          type="text"
          maxLength={80}
          value={entry.buddyName ?? ''}
          aria-required={isInWater(entry)}
          onInput={(event) => onChange({ ...entry, buddyName: event.currentTarget.value })}
        />
      </label>
      <ChoiceField
        label={words.effort}
        value={entry.effort}
        choices={(['easy', 'medium', 'hard'] as const).map((effort) => [effort, words.efforts[effort]])}
        onChange={(effort) => onChange({ ...entry, effort })}
      />
      <label class="field">
        <span>{text.weeksMore.details.minutes}</span>
        <input
          type="number"
          min={1}
          max={1440}
          value={entry.minutes ?? ''}
          onInput={(event) => {
            const minutes = Math.round(Number(event.currentTarget.value));
            onChange({ ...entry, minutes: minutes >= 1 && minutes <= 1_440 ? minutes : null });
          }}
        />
      </label>
      <ChoiceField
        label={words.comfort}
        value={entry.comfort === null ? '' : String(entry.comfort)}
        choices={[
          ['', words.comfortUnsaid],
          ...text.plans.comfortScale.map((word, index): [string, string] => [String(index + 1), word]),
        ]}
        onChange={(comfort) => onChange({ ...entry, comfort: comfort === '' ? null : Number(comfort) })}
      />
      <label class="field">
        <span>{words.note}</span>
        <textarea
          maxLength={2000}
          value={entry.note}
          onInput={(event) => onChange({ ...entry, note: event.currentTarget.value })}
        />
      </label>
    </>
  );
}
