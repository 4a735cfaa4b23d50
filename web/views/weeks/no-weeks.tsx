// Nothing recorded or logged yet: where to begin.

import { useApp } from '../../app/app-context.ts';

export function NoWeeks() {
  const { text } = useApp();
  const words = text.history.weeks;
  return (
    <>
      <p class="empty">{words.empty}</p>
      <p class="button-row">
        <a class="button" href="/">
          {words.toSetup}
        </a>
        <a class="button" href="/training">
          {words.toLog}
        </a>
      </p>
    </>
  );
}
