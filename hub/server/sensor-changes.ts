// Which sensors have changed, as far as a person sees anything of them, since pages were last told.

import type { SensorsMessage } from '../../shared/messages/sensors.ts';

export class SensorChanges {
  readonly #whole: () => SensorsMessage;
  /** By sensor, as text, what pages were told. */
  #told = new Map<string, string>();
  #toldNotices = '[]';

  /** `whole`: everything as it is now. */
  constructor(whole: () => SensorsMessage) {
    this.#whole = whole;
  }

  /** What is new since the last call; undefined where nothing is. */
  take(): SensorsMessage | undefined {
    const { sensors, notices } = this.#whole();
    const now = new Map(sensors.map((sensor) => [sensor.sensorId, JSON.stringify(sensor)]));
    const changed = sensors.filter(({ sensorId }) => now.get(sensorId) !== this.#told.get(sensorId));
    const gone = [...this.#told.keys()].filter((sensorId) => !now.has(sensorId));
    const noticesNow = JSON.stringify(notices);
    if (changed.length === 0 && gone.length === 0 && noticesNow === this.#toldNotices) return undefined;
    this.#told = now;
    this.#toldNotices = noticesNow;
    return { type: 'sensors', whole: false, sensors: changed, gone, notices };
  }
}
