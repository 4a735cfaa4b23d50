// Erasing somebody for good: what goes is said by whoever asks; here the name is typed and the button pressed twice, since
// nothing brings it back.

import { useSignal } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { useLayoutEffect } from 'preact/hooks';
import { useApp } from '../app/app-context.ts';
import { isolated } from '../state/format.ts';
import { isNameOf } from '../state/typed-name.ts';
import { Dialog } from './dialog.tsx';
import { ProblemNotice } from './problem-notice.tsx';

export interface EraseDialogProps {
  readonly words: {
    readonly title: string;
    readonly typeName: (name: string) => string;
    readonly again: (name: string) => string;
    readonly confirm: string;
    readonly confirmAgain: string;
    readonly failed: (message: string) => string;
  };
  /** Null until somebody is chosen and it has been said what goes. Of another id all is asked anew. */
  readonly whom: { readonly id: string; readonly name: string } | null;
  /** What goes. */
  readonly children: ComponentChildren;
  /** Why it cannot be said what goes. */
  readonly problem: string | null;
  readonly mayErase?: boolean;
  /** What stands in its place once it is done; in the same dialog, since one that goes closes the other. */
  readonly done?: ComponentChildren;
  readonly erase: () => Promise<{ readonly ok: true } | { readonly ok: false; readonly reason: string }>;
  readonly onErased: () => void;
  readonly onClose: () => void;
}

export function EraseDialog(props: EraseDialogProps) {
  const { words, whom, problem, mayErase = true, onClose } = props;
  const { text } = useApp();
  const typed = useSignal('');
  const certain = useSignal(false);
  const erasing = useSignal(false);
  const refused = useSignal<string | null>(null);
  const id = whom?.id;
  // Before the field can be seen: an effect after the paint took away what a quick hand had typed by then.
  useLayoutEffect(() => {
    typed.value = '';
    certain.value = false;
    refused.value = null;
  }, [id]);
  const isReady = mayErase && whom !== null && !erasing.value && isNameOf(typed.value, whom.name);
  const press = async (): Promise<void> => {
    if (!isReady) return;
    if (!certain.value) {
      certain.value = true;
      return;
    }
    erasing.value = true;
    const answer = await props.erase();
    erasing.value = false;
    if (answer.ok) props.onErased();
    else refused.value = words.failed(answer.reason);
  };
  const isDone = props.done !== undefined;
  return (
    <Dialog
      title={words.title}
      onClose={onClose}
      closeLabel={isDone ? text.close : text.cancel}
      actions={
        isDone ? null : (
          <button
            type="button"
            class="button button--primary"
            disabled={!isReady}
            onClick={() => void press()}
          >
            {certain.value ? words.confirmAgain : words.confirm}
          </button>
        )
      }
    >
      {isDone ? props.done : props.children}
      {whom === null || isDone ? null : (
        <label class="field">
          <span>{words.typeName(isolated(whom.name))}</span>
          <input
            type="text"
            value={typed.value}
            autocomplete="off"
            onInput={(event) => {
              typed.value = event.currentTarget.value;
              certain.value = false;
            }}
          />
        </label>
      )}
      {certain.value && whom !== null && !isDone ? (
        <p class="notice notice--strong" role="alert">
          {words.again(isolated(whom.name))}
        </p>
      ) : null}
      <ProblemNotice problem={refused.value ?? problem} />
    </Dialog>
  );
}
