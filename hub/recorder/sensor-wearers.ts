// Who wore a sensor at a time of the session: a sensor can change hands, and each wearer holds until the next, or until it
// was taken off them.

import type { StoredSensor } from '../base/ports/stored-session.ts';

/** The athlete wearing `sensorId` at `atMs`; undefined for a sensor that nobody wore then. */
export function wearerOf(
  sensors: readonly StoredSensor[],
  sensorId: string,
  atMs: number,
): string | undefined {
  let wearer: StoredSensor | undefined;
  for (const sensor of sensors) {
    if (sensor.sensorId !== sensorId || sensor.fromMs > atMs) continue;
    if (wearer === undefined || sensor.fromMs >= wearer.fromMs) wearer = sensor;
  }
  return wearer?.untilMs !== undefined && atMs >= wearer.untilMs ? undefined : wearer?.athleteId;
}
