// The words inside EDF files. Not translated: an import reads them back to find marks, notes and the beginning, whatever
// the language of whoever wrote the file, and the header may hold nothing but ASCII.

import type { MarkKind } from '../../../shared/schema-parts.ts';

export const edfEquipment = 'Slackwater';
export const simulatedAnnotation = 'SIMULATED: no person was measured';
export const labelAnnotation = 'Not a medical device.';
/** Said by files of before, whose header was in UTC. */
export const timesAreUtcAnnotation = 'Not a medical device. Times are UTC.';
/** Followed by the moment of the first record as ISO 8601 in UTC, and the zone of the header's local time. */
export const beginAnnotation = 'Begins ';
export const beginText = (isoText: string, zone: string): string =>
  `${beginAnnotation}${isoText} (UTC); times of the header are of ${zone}`;

/** Texts of marks as annotations. Notes carry their own text after "Note: ". */
export const markAnnotations: Readonly<Record<Exclude<MarkKind, 'note'>, string>> = {
  holdStart: 'Mark: hold start',
  holdEnd: 'Mark: hold end',
  contraction: 'Mark: contraction',
  breathing: 'Mark: breathing',
  lungsFull: 'Mark: lungs full',
  lungsHalf: 'Mark: lungs half full',
  lungsEmptied: 'Mark: lungs emptied',
  answered: 'Mark: answered',
  stillHolding: 'Mark: still holding',
};
export const noteAnnotation = 'Note: ';
/** What this program derived; an import leaves these to be derived anew. */
export const derivedAnnotations = ['Hold ', 'Alarm, ', 'Gap: ', 'Left out: ', 'Moved: ', 'Change: '] as const;
export const noteContinued = 'Note goes on: ';
/** A note says in words how long it lasts, since marks of this program are moments. */
export const lastingWords = (durationS: number): string => ` (lasts ${Number(durationS.toFixed(6))} s)`;
export const lastingPattern = / \(lasts (\d+(?:\.\d+)?) s\)$/;

/** EDF+'s field for where a signal came from. */
export const transducers = {
  strapRate: 'heart rate strap',
  strapInterval: 'heart rate strap, interval that ends here',
  oximeterSaturation: 'pulse oximeter (SpO2)',
  oximeter: 'pulse oximeter',
  oximeterPerfusion: 'pulse oximeter, perfusion index',
  cellCode: '0 no reading, else 8192 x (1 good 2 suspect 3 bad) + place in the cell',
} as const;
