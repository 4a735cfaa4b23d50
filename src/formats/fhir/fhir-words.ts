// The words inside FHIR bundles. Not translated: displays are those of the code systems (LOINC, ActReason), which a
// receiver checks, and the rest stands beside them in the same language.

export const displays = {
  vitalSigns: 'Vital Signs',
  heartRate: 'Heart rate',
  arterialSaturation: 'Oxygen saturation in Arterial blood',
  pulseOximetrySaturation: 'Oxygen saturation in Arterial blood by Pulse oximetry',
  testData: 'test health data',
} as const;
export const saturationText = 'Oxygen saturation by pulse oximetry (SpO2)';
export const notMedical = 'Recorded with Slackwater, which is not a medical device.';
export const simulatedText = 'SIMULATED: no person was measured.';
export const titleText = (title: string): string => `Session: ${title}`;
export const lowestOfHold = (number: number): string => `lowest reading of hold ${number}`;
export const holdTexts = {
  code: 'Breath-hold, dry',
  note: 'Note',
  comfort: 'How it felt, 1 very uncomfortable to 5 easy',
  feeling: 'How it felt, in words',
  noEnd: 'the recording has no end of this hold',
} as const;
export const boundaryText = (
  hold: { readonly start: string; readonly end: string | null; readonly isProposed: boolean },
  number: number,
): string =>
  `hold ${number}${hold.isProposed ? ', proposed, not accepted' : ''}: start ${hold.start}${hold.end === null ? '' : `, end ${hold.end}`}`;
/** By the codes of src/sessions/sample-grid.ts. */
export const qualityText = 'Quality of each reading: 0 none, 1 good, 2 suspect, 3 bad';
