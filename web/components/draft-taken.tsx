// Says that a form opens with what was not saved before, and offers to go on without.

import { useApp } from '../app/app-context.ts';

export interface DraftTakenProps {
  /** When it was written; '' where there is none. */
  readonly at: string;
  readonly onDrop: () => void;
}

export function DraftTaken({ at, onDrop }: DraftTakenProps) {
  const { text } = useApp();
  if (at === '') return null;
  return (
    <p class="notice" role="status">
      {text.takeBack.draftTaken(at)}
      <button type="button" class="button" onClick={onDrop}>
        {text.takeBack.startAfresh}
      </button>
    </p>
  );
}
