// What is known of one athlete's recording once it has been worked out, and with the corrections made by hand.

import type { Channel } from '../../shared/schema-parts.ts';
import type { CorrectedMarks } from '../../src/sessions/correct-marks.ts';
import type { CorrectionStep } from '../../src/sessions/correction-steps.ts';
import type { DerivedGap, MeasuredHold } from '../../src/sessions/derive-recording.ts';
import type { PackedSamples } from '../../src/sessions/packed-samples.ts';
import type { SampleColumns } from '../../src/sessions/sample-columns.ts';
import type { PlethSecond } from '../../src/signal/pleth-breathing.ts';

export type Columns = ReadonlyMap<Channel, SampleColumns>;

/** Worked out from the signals alone. */
export interface Derived {
  /** With the quality the pipeline gave. */
  readonly cleaned: Columns;
  readonly sent: Columns;
  readonly samples: PackedSamples;
  readonly plethSeconds: ReadonlyMap<number, PlethSecond>;
  readonly gaps: readonly DerivedGap[];
  readonly discardedCount: number;
  /** As estimated, without corrections. */
  readonly holds: readonly MeasuredHold[];
}

/** One athlete's recording with its holds as corrected by hand; the estimate stands beside. */
export interface CorrectedRecording {
  readonly cleaned: Columns;
  readonly gaps: readonly DerivedGap[];
  readonly discardedCount: number;
  readonly holds: readonly MeasuredHold[];
  readonly estimatedHolds: readonly MeasuredHold[];
  /** As corrected. */
  readonly marks: CorrectedMarks['marks'];
  /** Of this athlete, undone ones too, in the order they were made. */
  readonly correctionSteps: readonly CorrectionStep[];
  /** In force, but the hold they correct is not found any more. */
  readonly stepsWithoutHold: readonly CorrectionStep[];
}
