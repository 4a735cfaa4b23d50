// Holds and notes of a recording as FHIR observations: each hold with every measure as a component, a note as text.

import type { RecordingForFhir } from './bundle-of-recording.ts';
import { boundaryText, holdTexts } from './fhir-words.ts';

type HoldForFhir = RecordingForFhir['holds'][number];

const ucum = 'http://unitsofmeasure.org';
/** Units of measures as UCUM writes them; one that is not here is said in words alone. */
const ucumCodes: Readonly<Record<string, string>> = {
  s: 's',
  ms: 'ms',
  '%': '%',
  '/min': '/min',
  '%/min': '%/min',
  '% s': '%.s',
  count: '{count}',
  ratio: '1',
};
const unknown = 'http://terminology.hl7.org/CodeSystem/data-absent-reason';

function quantity(value: number, unit: string) {
  const code = ucumCodes[unit];
  return {
    value: Math.round(value * 1_000) / 1_000,
    unit,
    ...(code !== undefined && { system: ucum, code }),
  };
}

/** What an observation of a hold says beside what all observations say. `at` gives a time of the session as FHIR writes it. */
export function holdElements(hold: HoldForFhir, number: number, at: (atMs: number) => string) {
  const { startMs, endMs, measures, feeling, comfort } = hold;
  const felt = [
    ...(comfort === null ? [] : [{ code: { text: holdTexts.comfort }, valueInteger: comfort }]),
    ...(feeling === null ? [] : [{ code: { text: holdTexts.feeling }, valueString: feeling }]),
  ];
  const component = [
    ...measures.flatMap(({ key, label, unit, value }) =>
      value === null ? [] : [{ code: { text: `${label} (${key})` }, valueQuantity: quantity(value, unit) }],
    ),
    ...felt,
  ];
  return {
    code: { text: holdTexts.code },
    effectivePeriod: { start: at(startMs), ...(endMs !== null && { end: at(endMs) }) },
    // A hold without an end has no length: said, and not left to be guessed.
    ...(endMs === null
      ? { dataAbsentReason: { coding: [{ system: unknown, code: 'unknown' }], text: holdTexts.noEnd } }
      : { valueQuantity: quantity((endMs - startMs) / 1_000, 's') }),
    method: { text: boundaryText(hold, number) },
    ...(component.length > 0 && { component }),
  };
}
