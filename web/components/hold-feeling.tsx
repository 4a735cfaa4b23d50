// How a hold felt: five plain steps and a note, asked after it, one tap, and skipped with one tap.

import { useComputed, useSignal } from '@preact/signals';
import * as z from 'zod/mini';
import type { HoldFeeling, HoldView } from '../../shared/views.ts';
import { useApp } from '../app/app-context.ts';
import { useDraft } from '../app/use-draft.ts';
import type { AthleteModel } from '../state/athlete-model.ts';
import { Dialog } from './dialog.tsx';
import './hold-feeling.css';

/** The last hold where it is over, else null: nobody is asked while holding. */
export function lastHoldThatIsOver(holds: readonly HoldView[]): HoldView | null {
  const last = holds.at(-1);
  return last === undefined || last.end === null ? null : last;
}

export interface FeelingScaleProps {
  readonly legend: string;
  readonly comfort: number | null;
  readonly onPick: (comfort: number) => void;
}

export function FeelingScale({ legend, comfort, onPick }: FeelingScaleProps) {
  const { text } = useApp();
  const words = text.plans.comfortScale;
  return (
    <fieldset class="feeling-scale">
      <legend>{legend}</legend>
      {words.map((word, index) => (
        <button
          type="button"
          class="button"
          key={word}
          aria-pressed={comfort === index + 1}
          aria-label={`${index + 1} ${word}`}
          onClick={() => onPick(index + 1)}
        >
          {index + 1} <small>{word}</small>
        </button>
      ))}
    </fieldset>
  );
}

/** On the athlete's page: asks once the last hold is over, until it is answered, skipped, or the next begins. */
export function HoldFeelingBar({
  model,
  onComfort,
}: {
  readonly model: AthleteModel;
  /** Told besides the recording. */
  readonly onComfort?: (comfort: number) => void;
}) {
  const { text, commands } = useApp();
  const words = text.feeling;
  const skippedHoldId = useSignal<string | null>(null);
  const changing = useSignal(false);
  const noting = useSignal(false);
  const hold = useComputed(() => lastHoldThatIsOver(model.holds.value));
  // While an alarm asks for someone, nothing else is asked.
  const isUrgent = useComputed(() =>
    model.alarms.value.some(({ priority, acknowledged }) => priority === 'high' && !acknowledged),
  );
  const shown = hold.value;
  if (isUrgent.value || shown === null || shown.holdId === skippedHoldId.value) return null;
  const { holdId, feeling } = shown;
  const comfort = feeling?.comfort ?? null;
  const say = (change: Partial<HoldFeeling>) =>
    commands.rateHold(model.athleteId, holdId, { comfort, note: feeling?.note ?? null, ...change });
  const skip = () => {
    skippedHoldId.value = holdId;
  };
  return (
    <section class="feeling-bar" aria-label={words.title}>
      {comfort === null || changing.value ? (
        <>
          <FeelingScale
            legend={words.ask}
            comfort={comfort}
            onPick={(picked) => {
              changing.value = false;
              say({ comfort: picked });
              onComfort?.(picked);
            }}
          />
          <button type="button" class="button button--quiet feeling-skip" onClick={skip}>
            {words.skip}
          </button>
        </>
      ) : (
        <p class="feeling-said">
          <span>{words.said(text.plans.comfortScale[comfort - 1] ?? String(comfort))}</span>
          <button type="button" class="button button--quiet" onClick={() => (noting.value = true)}>
            {feeling?.note ? words.changeNote : words.addNote}
          </button>
          <button type="button" class="button button--quiet" onClick={() => (changing.value = true)}>
            {words.change}
          </button>
          <button type="button" class="button button--quiet" onClick={skip}>
            {text.close}
          </button>
        </p>
      )}
      {noting.value ? (
        <FeelingNote
          athleteId={model.athleteId}
          holdId={holdId}
          note={feeling?.note ?? ''}
          onClose={() => (noting.value = false)}
          onSave={(note) => {
            noting.value = false;
            say({ note: note === '' ? null : note });
          }}
        />
      ) : null}
    </section>
  );
}

interface FeelingNoteProps {
  readonly athleteId: string;
  readonly holdId: string;
  readonly note: string;
  readonly onSave: (note: string) => void;
  readonly onClose: () => void;
}

function FeelingNote({ athleteId, holdId, note, onSave, onClose }: FeelingNoteProps) {
  const { text, hub } = useApp();
  const draft = useDraft({
    key: `feeling:${hub.session.value?.sessionId ?? ''}:${athleteId}:${holdId}`,
    schema: z.string(),
    athleteId,
    name: text.takeBack.drafts.note,
    path: null,
  });
  const written = useSignal(draft.kept ?? note);
  const write = (words: string) => {
    written.value = words;
    if (words === note) draft.settle();
    else draft.keep(words);
  };
  const save = () => {
    draft.settle();
    onSave(written.value.trim());
  };
  return (
    <Dialog
      title={text.feeling.noteTitle}
      onClose={onClose}
      closeLabel={text.cancel}
      actions={
        <button type="button" class="button button--primary" onClick={save}>
          {text.wall.noteSave}
        </button>
      }
    >
      <label class="field">
        <span>{text.wall.noteText}</span>
        <textarea
          rows={3}
          maxLength={2000}
          value={written.value}
          onInput={(event) => write(event.currentTarget.value)}
        />
      </label>
    </Dialog>
  );
}

/** What was said, in one line; null when nothing was. */
export function feelingWords(
  feeling: HoldFeeling | undefined,
  scale: readonly string[],
  label: (word: string) => string,
): string | null {
  if (feeling === undefined) return null;
  const parts = [
    ...(feeling.comfort === null ? [] : [label(scale[feeling.comfort - 1] ?? String(feeling.comfort))]),
    ...(feeling.note === null ? [] : [`\u201c${feeling.note}\u201d`]),
  ];
  return parts.length === 0 ? null : parts.join(' \u00b7 ');
}
