// A training entry in one short line of numbers. Pure.

import type { TrainingEntry } from '../../../shared/training-log.ts';
import { clockText } from '../../../shared/words/formats.ts';
import { timedSwimMeters } from '../../../src/training/entry-cautions.ts';
import type { Messages } from '../../i18n/en.ts';
import { formatLength } from '../../state/format.ts';

/** `words` of the log: what a bare number would leave open. */
export function entrySummary(entry: TrainingEntry, words: Messages['plans']['training']): string {
  const time = (seconds: number | null) => (seconds === null ? '' : clockText(seconds * 1_000));
  switch (entry.kind) {
    case 'poolSet':
      return `${entry.repetitions} \u00d7 ${formatLength(entry.distanceMeters)}, ${words.every(time(entry.everySeconds))}`;
    case 'timedSwim':
      return `${formatLength(timedSwimMeters(entry))}, ${time(entry.lengthSeconds)}`;
    case 'apneaWalk':
      return `${entry.rounds} \u00d7 ${entry.steps === null ? time(entry.lengthSeconds) : words.steps(entry.steps)}`;
    case 'maximalDryHold':
      return time(entry.lengthSeconds);
    case 'maximalInWater':
      return entry.distanceMeters === null ? time(entry.lengthSeconds) : formatLength(entry.distanceMeters);
  }
}
