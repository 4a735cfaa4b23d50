// A training entry in one short line of numbers. Pure.

import type { TrainingEntry } from '../../../shared/training-log.ts';
import { clockText } from '../../../shared/words/formats.ts';
import { timedSwimMeters } from '../../../src/training/entry-cautions.ts';
import { formatLength } from '../../state/format.ts';

export function entrySummary(entry: TrainingEntry): string {
  const time = (seconds: number | null) => (seconds === null ? '' : clockText(seconds * 1_000));
  switch (entry.kind) {
    case 'poolSet':
      return `${entry.repetitions} \u00d7 ${formatLength(entry.distanceMeters)}, ${time(entry.everySeconds)}`;
    case 'timedSwim':
      return `${formatLength(timedSwimMeters(entry))}, ${time(entry.lengthSeconds)}`;
    case 'apneaWalk':
      return `${entry.rounds} \u00d7 ${entry.steps === null ? time(entry.lengthSeconds) : entry.steps}`;
    case 'maximalDryHold':
      return time(entry.lengthSeconds);
    case 'maximalInWater':
      return entry.distanceMeters === null ? time(entry.lengthSeconds) : formatLength(entry.distanceMeters);
  }
}
