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
