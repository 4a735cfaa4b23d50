// The lengths that were timed, under an entry; nothing for one entered by hand.

import type { TrainingEntry } from '../../../shared/training-log.ts';
import { clockText } from '../../../shared/words/formats.ts';
import { useApp } from '../../app/app-context.ts';

export function TimedLengths({ entry }: { readonly entry: TrainingEntry }) {
  const { text } = useApp();
  const seconds =
    entry.kind === 'poolSet'
      ? entry.repetitionsSeconds
      : entry.kind === 'timedSwim'
        ? entry.lapsAtSeconds.map((at, index, all) => at - (all[index - 1] ?? 0))
        : [];
  if (seconds.length === 0) return null;
  return (
    <small class="hint">
      {text.history.timer.timed(seconds.map((each) => clockText(each * 1_000)).join(', '))}
    </small>
  );
}
