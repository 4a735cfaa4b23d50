// What went wrong, in one sentence, with a way to try again where there is one.

import { useApp } from '../app/app-context.ts';

export interface ProblemNoticeProps {
  /** Null where nothing went wrong. */
  readonly problem: string | null;
  readonly onAgain?: () => void;
}

/** Read out as it appears, because it comes after the page has been read (WCAG 2.2, 4.1.3 status messages). */
export function ProblemNotice({ problem, onAgain }: ProblemNoticeProps) {
  if (problem === null) return null;
  return (
    <p class="notice notice--strong" role="alert">
      {problem}
      {onAgain === undefined ? null : <AgainButton onAgain={onAgain} />}
    </p>
  );
}

function AgainButton({ onAgain }: { readonly onAgain: () => void }) {
  const { text } = useApp();
  return (
    <button type="button" class="button" onClick={onAgain}>
      {text.recordings.again}
    </button>
  );
}
