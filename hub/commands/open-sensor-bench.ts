// Joins the folder of sensor profiles to the radio and to the running hub: what is saved goes into use when it may, and sensors are
// looked at between sessions.

import { said } from '../../shared/said.ts';
import type { ServiceScope } from '../base/service-scope.ts';
import { systemClock } from '../base/system-clock.ts';
import type { Hub } from '../live/hub.ts';
import type { BluetoothSource } from '../sensors/bluetooth/bluetooth-source.ts';
import { profileLinkOf } from '../sensors/bluetooth/profile-link.ts';
import type { ProfileShelf } from '../sensors/bluetooth/profile-shelf.ts';
import { SensorBench } from '../sensors/bluetooth/sensor-bench.ts';

/** What the server has of it: no bench where there is no radio. */
export function openSensorBench(
  hub: Hub,
  scope: ServiceScope,
  {
    profileShelf: shelf,
    bluetooth,
  }: { readonly profileShelf?: ProfileShelf; readonly bluetooth?: BluetoothSource },
): { readonly profileShelf?: ProfileShelf; readonly sensorBench?: SensorBench } {
  shelf?.waitWhile(() => hub.session !== null);
  shelf?.onUse((profiles) => bluetooth?.useProfiles(profiles.map(profileLinkOf)));
  const sensorBench =
    bluetooth &&
    new SensorBench(bluetooth, systemClock, (sensorId) => {
      if (hub.session !== null) return said('refusal.sessionRunning');
      const isWorn = hub.sensors.some((each) => each.sensorId === sensorId && each.athleteId !== null);
      return isWorn ? said('bench.worn') : null;
    });
  scope.onClose(() => sensorBench?.close());
  hub.subscribe((event) => {
    if (event.type === 'sessionStarted') sensorBench?.end();
    // Once the session is over for everybody.
    if (event.type === 'sessionEnded') systemClock.after(0, () => shelf?.settle());
  });
  return {
    ...(shelf !== undefined && { profileShelf: shelf }),
    ...(sensorBench !== undefined && { sensorBench }),
  };
}
