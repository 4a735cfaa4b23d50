// What a person calls a sensor. One that nobody has heard yet is known by its address alone: then its kind, where that is known, and
// the end of the address, which may stand on the sensor.

import type { SensorView } from '../../shared/views.ts';
import type { Messages } from '../i18n/en.ts';

/** As the hub makes ids of addresses; it names a sensor by its id while it knows no name. */
const isAddress = (name: string): boolean => name === '' || name.startsWith('bt:');

export function sensorName(
  { name, sensorId, kinds = [] }: Pick<SensorView, 'name' | 'sensorId'> & Partial<Pick<SensorView, 'kinds'>>,
  text: Messages,
): string {
  if (!isAddress(name)) return name;
  return text.sensor.unheard(
    kinds.map((kind) => text.sensor.kinds[kind]).join(' + '),
    endOfAddress(sensorId),
  );
}

/** Two sensors of a model have the same name; the ends of their addresses differ. */
export const endOfAddress = (sensorId: string): string => sensorId.slice(-4).toUpperCase();
