// The entries of a training log, the newest first, each with its cautions.

import type { TrainingEntry } from '../../../shared/training-log.ts';
import { entryCautions } from '../../../src/training/entry-cautions.ts';
import { useApp } from '../../app/app-context.ts';
import { formatWallTime, isolated } from '../../state/format.ts';
import { TimedLengths } from '../log/timed-lengths.tsx';
import { entrySummary } from './entry-summary.ts';

export interface EntryListProps {
  /** Null while nobody knows them. */
  readonly entries: readonly TrainingEntry[] | null;
  readonly onChange: (entry: TrainingEntry) => void;
  readonly onRemove: (entry: TrainingEntry) => void;
}

export function EntryList({ entries, onChange, onRemove }: EntryListProps) {
  const { text, say, hub } = useApp();
  const words = text.plans.training;
  return (
    <section class="step">
      {entries?.length === 0 ? <p class="hint">{words.empty}</p> : null}
      <ul class="training-list">
        {(entries ?? []).map((each) => (
          <li key={each.entryId}>
            <strong>{words.kinds[each.kind]}</strong>
            <span>
              {formatWallTime(each.startedWallAtMs)} {'\u00b7'} {entrySummary(each, words)}
              {each.buddyName === null ? '' : ` \u00b7 ${isolated(each.buddyName)}`}
            </span>
            <TimedLengths entry={each} />
            {entryCautions(each).map((caution) => (
              <small class="problem" key={caution.code}>
                {say(caution)}
              </small>
            ))}
            {hub.mayAct.value ? (
              <div class="button-row">
                <button
                  type="button"
                  class="button button--quiet"
                  aria-label={words.changeEntry(formatWallTime(each.startedWallAtMs))}
                  onClick={() => onChange(each)}
                >
                  {words.change}
                </button>
                <button
                  type="button"
                  class="button button--quiet"
                  aria-label={words.removeEntry(formatWallTime(each.startedWallAtMs))}
                  onClick={() => onRemove(each)}
                >
                  {words.remove}
                </button>
              </div>
            ) : null}
          </li>
        ))}
      </ul>
    </section>
  );
}
