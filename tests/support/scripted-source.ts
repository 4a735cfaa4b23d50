// A sensor source that a test drives by hand: two sensors of each athlete, bytes when the test says so.

import type { Clock } from '../../hub/base/ports/clock.ts';
import type { SensorListener, SensorSource, SensorStatus } from '../../hub/base/ports/sensor-source.ts';
import { percent } from '../../shared/units.ts';
import type { PairingAnswer } from '../../shared/views.ts';

export interface ScriptedSource extends SensorSource {
  /** PLX Continuous with SFLOATs of exponent 0, from the first athlete's clip. */
  oximetry(spo2Percent: number, pulseRateBpm?: number): void;
  /** From the first athlete's strap. */
  heartRate(heartRateBpm: number): void;
  bytes(sensorId: string, characteristic: string, bytes: Uint8Array): void;
  link(sensorId: string, link: SensorStatus['link']): void;
  /** What its source says of a sensor beside its link. */
  tell(sensorId: string, about: Partial<SensorStatus>): void;
  /** What was said to sensors that pair, and whose keys were to be forgotten. */
  readonly pairingAnswers: {
    readonly sensorId: string;
    readonly requestId: string;
    readonly answer: PairingAnswer;
  }[];
  readonly forgottenBonds: string[];
  readonly started: boolean;
}

export interface ScriptedSensor {
  readonly sensorId: string;
  readonly name: string;
  readonly kind: SensorStatus['kinds'][number];
}

export const scriptedSensorIds = { oximeter: 'test-oximeter', strap: 'test-strap' } as const;

const oneAthletes: readonly ScriptedSensor[] = [
  { sensorId: scriptedSensorIds.oximeter, name: scriptedSensorIds.oximeter, kind: 'oximeter' },
  { sensorId: scriptedSensorIds.strap, name: scriptedSensorIds.strap, kind: 'heartRate' },
];

export function createScriptedSource(
  clock: Clock,
  source: SensorSource['source'] = 'bluetooth',
  sensors: readonly ScriptedSensor[] = oneAthletes,
): ScriptedSource {
  let listener: SensorListener | undefined;
  const pairingAnswers: ScriptedSource['pairingAnswers'] = [];
  const forgottenBonds: string[] = [];
  const status = (sensorId: string, link: SensorStatus['link']): SensorStatus => {
    const sensor = sensors.find((each) => each.sensorId === sensorId)!;
    return {
      sensorId,
      name: sensor.name,
      kinds: [sensor.kind],
      source,
      link,
      detail: null,
      batteryPercent: percent(80),
      rssiDbm: -50,
    };
  };
  const bytes = (sensorId: string, characteristic: string, payload: Uint8Array): void =>
    listener?.packet({ sensorId, characteristic, bytes: payload, receivedAtMs: clock.nowMs() });
  return {
    source,
    async start(to) {
      listener = to;
      for (const { sensorId } of sensors) to.sensorChanged(status(sensorId, 'connected'));
    },
    async stop() {
      listener = undefined;
    },
    oximetry(spo2Percent, pulseRateBpm = 62) {
      bytes(sensors[0]!.sensorId, '2a5f', Uint8Array.of(0, spo2Percent, 0, pulseRateBpm, 0));
    },
    heartRate(heartRateBpm) {
      bytes(sensors[1]!.sensorId, '2a37', Uint8Array.of(0x06, heartRateBpm));
    },
    bytes,
    tell(sensorId, about) {
      listener?.sensorChanged({ ...status(sensorId, 'connected'), ...about });
    },
    pairingAnswers,
    forgottenBonds,
    answerPairing: (sensorId, requestId, answer) => void pairingAnswers.push({ sensorId, requestId, answer }),
    forgetBond: (sensorId) => void forgottenBonds.push(sensorId),
    link(sensorId, link) {
      listener?.sensorChanged(status(sensorId, link));
    },
    get started() {
      return listener !== undefined;
    },
  };
}
