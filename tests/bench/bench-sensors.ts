// A strap and a clip for each athlete of a bench, as connected sensors: "heartRate-0", "oximeter-0" and so on.

import type { SensorListener } from '../../hub/base/ports/sensor-source.ts';

export const benchSensorKinds = ['heartRate', 'oximeter'] as const;

export function announceSensors(listener: SensorListener, athlete: number): void {
  for (const kind of benchSensorKinds)
    listener.sensorChanged({
      sensorId: `${kind}-${athlete}`,
      name: `${kind}-${athlete}`,
      kinds: [kind],
      source: 'bluetooth',
      link: 'connected',
      detail: null,
      batteryPercent: null,
      rssiDbm: null,
    });
}
