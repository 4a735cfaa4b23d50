// The two status fields that all pulse oximeter measurements share (PLXS v1.0.1 Tables 3.4 and 3.5).

import { namesOfSetBits } from './flag-names.ts';

export type MeasurementStatus =
  | 'measurementOngoing'
  | 'earlyEstimate'
  | 'validated'
  | 'fullyQualified'
  | 'fromStorage'
  | 'demonstration'
  | 'testing'
  | 'calibrationOngoing'
  | 'unavailable'
  | 'questionable'
  | 'invalid';

/** Table 3.4: bits 0-4 reserved. */
export const measurementStatusBits: readonly (MeasurementStatus | null)[] = [
  null,
  null,
  null,
  null,
  null,
  'measurementOngoing',
  'earlyEstimate',
  'validated',
  'fullyQualified',
  'fromStorage',
  'demonstration',
  'testing',
  'calibrationOngoing',
  'unavailable',
  'questionable',
  'invalid',
];

export type DeviceStatus =
  | 'extendedDisplayUpdate'
  | 'equipmentMalfunction'
  | 'signalProcessingIrregularity'
  | 'inadequateSignal'
  | 'poorSignal'
  | 'lowPerfusion'
  | 'erraticSignal'
  | 'nonPulsatileSignal'
  | 'questionablePulse'
  | 'signalAnalysisOngoing'
  | 'sensorInterference'
  | 'sensorUnconnectedToUser'
  | 'unknownSensor'
  | 'sensorDisplaced'
  | 'sensorMalfunctioning'
  | 'sensorDisconnected';

/** Table 3.5: bits 16-23 reserved. */
export const deviceStatusBits: readonly DeviceStatus[] = [
  'extendedDisplayUpdate',
  'equipmentMalfunction',
  'signalProcessingIrregularity',
  'inadequateSignal',
  'poorSignal',
  'lowPerfusion',
  'erraticSignal',
  'nonPulsatileSignal',
  'questionablePulse',
  'signalAnalysisOngoing',
  'sensorInterference',
  'sensorUnconnectedToUser',
  'unknownSensor',
  'sensorDisplaced',
  'sensorMalfunctioning',
  'sensorDisconnected',
];

export const decodeMeasurementStatus = (bits: number): readonly MeasurementStatus[] =>
  namesOfSetBits(bits, measurementStatusBits);

export const decodeDeviceStatus = (bits: number): readonly DeviceStatus[] =>
  namesOfSetBits(bits, deviceStatusBits);
