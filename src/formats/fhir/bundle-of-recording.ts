// One athlete's recording as an HL7 FHIR R4 Bundle: heart rate and saturation as SampledData, each hold with its
// lowest saturation, and the alarms. Codes: LOINC, UCUM and IEEE 11073-10101.

import type { Sample } from '../../samples/sample.ts';
import { gridQuality, gridSamples } from '../../sessions/sample-grid.ts';
import { isoTextOf } from '../civil-date.ts';
import type { HoldForFile } from '../hold-for-file.ts';
import {
  displays,
  holdTexts,
  lowestOfHold,
  notMedical,
  qualityText,
  saturationText,
  simulatedText,
  titleText,
} from './fhir-words.ts';
import { holdElements } from './hold-entries.ts';

export interface RecordingForFhir {
  readonly sessionId: string;
  readonly athleteId: string;
  readonly athleteName: string;
  /** What the session is called; '' or left out for nothing. */
  readonly title?: string;
  readonly simulated: boolean;
  readonly startedWallAtMs: number;
  readonly durationMs: number;
  /** As the sensors sent them, in time order. */
  readonly samples: readonly Sample[];
  /** As corrected. */
  readonly holds: readonly HoldForFile[];
  readonly notes: readonly { readonly markId: string; readonly atMs: number; readonly text: string }[];
  readonly alarms: readonly {
    readonly alarmId: string;
    readonly raisedAtMs: number;
    readonly clearedAtMs: number | null;
    readonly priority: string;
    readonly message: string;
  }[];
  readonly sensors: readonly { readonly sensorId: string; readonly name: string }[];
}

/** Plain JSON; its shape is checked against the FHIR R4 schema in the tests. */
export interface FhirResource {
  readonly resourceType: string;
  readonly [element: string]: unknown;
}
export interface FhirBundle extends FhirResource {
  readonly entry: readonly { readonly fullUrl: string; readonly resource: FhirResource }[];
}

const ucum = 'http://unitsofmeasure.org';
const loinc = 'http://loinc.org';
/** IEEE 11073-10101 as a code system in FHIR. */
const mdc = 'urn:iso:std:iso:11073:10101';

const vitalSigns = [
  {
    coding: [
      {
        system: 'http://terminology.hl7.org/CodeSystem/observation-category',
        code: 'vital-signs',
        display: displays.vitalSigns,
      },
    ],
  },
];
const heartRateCode = {
  coding: [{ system: loinc, code: '8867-4', display: displays.heartRate }],
  text: displays.heartRate,
};
/** R4's oxygensat profile asks for 2708-6; US Core for 59408-5 beside it; the third is what the sensors speak. */
const saturationCode = {
  coding: [
    { system: loinc, code: '2708-6', display: displays.arterialSaturation },
    { system: loinc, code: '59408-5', display: displays.pulseOximetrySaturation },
    { system: mdc, code: '150456', display: 'MDC_PULS_OXIM_SAT_O2' },
  ],
  text: saturationText,
};

/** How sampled data stand for what could not be read (FHIR R4 2.24.0.6: E is an error or no value). */
const noValue = 'E';

const channels = [
  { channel: 'heartRateBpm', code: heartRateCode, unit: { unit: '/min', code: '/min' }, what: 'strap' },
  { channel: 'pulseRateBpm', code: heartRateCode, unit: { unit: '/min', code: '/min' }, what: 'oximeter' },
  { channel: 'spo2Percent', code: saturationCode, unit: { unit: '%', code: '%' }, what: 'oximeter' },
] as const;

/** The sensor that most of the readings came from: R4 has room for one. */
function mostlyFrom<Sensor extends { readonly sensorId: string }>(
  sensors: readonly Sensor[],
  own: readonly Sample[],
): Sensor | undefined {
  const counts = new Map<string, number>();
  for (const { sensorId } of own) counts.set(sensorId, (counts.get(sensorId) ?? 0) + 1);
  const [first] = [...counts].sort((a, b) => b[1] - a[1]);
  return sensors.find(({ sensorId }) => sensorId === first?.[0]);
}

/**
 * `uuidOf` gives a lower-case UUID for a name, always the same, so that the same recording gives the same bytes.
 * Readings that the sensors themselves called bad are E, as are cells without a reading.
 */
export function fhirBundleOfRecording(
  recording: RecordingForFhir,
  uuidOf: (name: string) => string,
): FhirBundle {
  const { sessionId, athleteId, startedWallAtMs, durationMs, samples, simulated, title = '' } = recording;
  const urlOf = (name: string): string => `urn:uuid:${uuidOf(`${sessionId}/${athleteId}/${name}`)}`;
  const at = (atMs: number): string => isoTextOf(Math.floor(startedWallAtMs + atMs));
  // HTEST marks health data that is not of a real person (HL7 v3 ActReason).
  const meta = simulated
    ? {
        meta: {
          security: [
            {
              system: 'http://terminology.hl7.org/CodeSystem/v3-ActReason',
              code: 'HTEST',
              display: displays.testData,
            },
          ],
        },
      }
    : {};
  const note = [
    { text: simulated ? `${simulatedText} ${notMedical}` : notMedical },
    ...(title === '' ? [] : [{ text: titleText(title) }]),
  ];
  const subject = { reference: urlOf('patient'), display: recording.athleteName };
  const observation = {
    resourceType: 'Observation',
    ...meta,
    status: 'final',
    subject,
    note,
  };
  const entries: { fullUrl: string; resource: FhirResource }[] = [
    {
      fullUrl: urlOf('patient'),
      resource: { resourceType: 'Patient', ...meta, name: [{ text: recording.athleteName }] },
    },
    ...recording.sensors.map(({ sensorId, name }) => ({
      fullUrl: urlOf(`device ${sensorId}`),
      resource: {
        resourceType: 'Device',
        ...meta,
        deviceName: [{ name, type: 'user-friendly-name' }],
      },
    })),
  ];

  const deviceOf = (own: readonly Sample[]) => {
    const sensor = mostlyFrom(recording.sensors, own);
    return sensor === undefined
      ? {}
      : { device: { reference: urlOf(`device ${sensor.sensorId}`), display: sensor.name } };
  };
  for (const { channel, code, unit, what } of channels) {
    const own = samples.filter((sample) => sample.channel === channel);
    if (own.length === 0) continue;
    const { cellsPerSecond, values, quality } = gridSamples(own, durationMs);
    const texts = Array.from(values, (value, cell) =>
      quality[cell] === gridQuality.none || quality[cell] === gridQuality.bad ? noValue : decimalText(value),
    );
    entries.push({
      fullUrl: urlOf(channel),
      resource: {
        ...observation,
        category: vitalSigns,
        code,
        ...deviceOf(own),
        effectivePeriod: { start: at(0), end: at((1000 * values.length) / cellsPerSecond) },
        method: { text: `${what}, ${cellsPerSecond === 1 ? 'once' : `${cellsPerSecond} times`} a second` },
        valueSampledData: {
          origin: { value: 0, unit: unit.unit, system: ucum, code: unit.code },
          period: 1000 / cellsPerSecond,
          factor: 1,
          dimensions: 1,
          data: texts.join(' '),
        },
        component: [
          {
            code: { text: qualityText },
            valueSampledData: {
              origin: { value: 0 },
              period: 1000 / cellsPerSecond,
              factor: 1,
              dimensions: 1,
              data: quality.join(' '),
            },
          },
        ],
      },
    });
  }

  recording.holds.forEach((hold, index) => {
    const { holdId, lowestSpo2 } = hold;
    entries.push({
      fullUrl: urlOf(`hold ${holdId}`),
      resource: { ...observation, ...holdElements(hold, index + 1, at) },
    });
    if (lowestSpo2 === null) return;
    entries.push({
      fullUrl: urlOf(`lowest ${holdId}`),
      resource: {
        ...observation,
        meta: { ...meta.meta, profile: ['http://hl7.org/fhir/StructureDefinition/oxygensat'] },
        category: vitalSigns,
        code: saturationCode,
        effectiveDateTime: at(lowestSpo2.atMs),
        valueQuantity: { value: Number(decimalText(lowestSpo2.value)), unit: '%', system: ucum, code: '%' },
        ...deviceOf(samples.filter(({ channel }) => channel === 'spo2Percent')),
        method: { text: lowestOfHold(index + 1) },
        derivedFrom: [{ reference: urlOf('spo2Percent') }],
      },
    });
  });
  for (const { markId, atMs, text } of recording.notes)
    entries.push({
      fullUrl: urlOf(`note ${markId}`),
      resource: {
        ...observation,
        code: { text: holdTexts.note },
        effectiveDateTime: at(atMs),
        valueString: text,
      },
    });
  for (const { alarmId, raisedAtMs, clearedAtMs, priority, message } of recording.alarms)
    entries.push({
      fullUrl: urlOf(`alarm ${alarmId}`),
      resource: {
        ...observation,
        code: { text: `Alarm, ${priority} priority` },
        effectivePeriod: {
          start: at(raisedAtMs),
          ...(clearedAtMs !== null && { end: at(Math.max(raisedAtMs, clearedAtMs)) }),
        },
        valueString: message,
      },
    });
  return {
    resourceType: 'Bundle',
    ...meta,
    identifier: { system: 'urn:ietf:rfc:3986', value: urlOf('bundle') },
    type: 'collection',
    timestamp: at(durationMs),
    entry: entries,
  };
}

/** A FHIR decimal without exponent; sensors' numbers have at most two digits after the point. */
function decimalText(value: number): string {
  return String(Math.round(value * 1_000) / 1_000);
}
