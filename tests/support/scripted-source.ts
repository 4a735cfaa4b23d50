// A sensor source that a test drives by hand: two sensors of one athlete, bytes when the test says so.

import type { Clock } from '../../hub/base/ports/clock.ts';
import type { SensorListener, SensorSource, SensorStatus } from '../../hub/base/ports/sensor-source.ts';
import { percent } from '../../shared/units.ts';

export interface ScriptedSource extends SensorSource {
  /** PLX Continuous with SFLOATs of exponent 0. */
  oximetry(spo2Percent: number, pulseRateBpm?: number): void;
  heartRate(heartRateBpm: number): void;
  bytes(sensorId: string, characteristic: string, bytes: Uint8Array): void;
  link(sensorId: string, link: SensorStatus['link']): void;
  readonly started: boolean;
}

export const scriptedSensorIds = { oximeter: 'test-oximeter', strap: 'test-strap' } as const;

export function createScriptedSource(
  clock: Clock,
  source: SensorSource['source'] = 'bluetooth',
): ScriptedSource {
  let listener: SensorListener | undefined;
  const status = (sensorId: string, link: SensorStatus['link']): SensorStatus => ({
    sensorId,
    name: sensorId,
    kinds: [sensorId === scriptedSensorIds.oximeter ? 'oximeter' : 'heartRate'],
    source,
    link,
    detail: null,
    batteryPercent: percent(80),
    rssiDbm: -50,
  });
  const bytes = (sensorId: string, characteristic: string, payload: Uint8Array): void =>
    listener?.packet({ sensorId, characteristic, bytes: payload, receivedAtMs: clock.nowMs() });
  return {
    source,
    async start(to) {
      listener = to;
      for (const sensorId of Object.values(scriptedSensorIds))
        to.sensorChanged(status(sensorId, 'connected'));
    },
    async stop() {
      listener = undefined;
    },
    oximetry(spo2Percent, pulseRateBpm = 62) {
      bytes(scriptedSensorIds.oximeter, '2a5f', Uint8Array.of(0, spo2Percent, 0, pulseRateBpm, 0));
    },
    heartRate(heartRateBpm) {
      bytes(scriptedSensorIds.strap, '2a37', Uint8Array.of(0x06, heartRateBpm));
    },
    bytes,
    link(sensorId, link) {
      listener?.sensorChanged(status(sensorId, link));
    },
    get started() {
      return listener !== undefined;
    },
  };
}
