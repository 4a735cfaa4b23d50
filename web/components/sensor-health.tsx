// One athlete's sensors in a line: kind, link, battery, in words and with a shape for the link.

import type { SensorView } from '../../shared/views.ts';
import { useApp } from '../app/app-context.ts';
import { sensorName } from './sensor-name.ts';
import './sensor-health.css';

const linkShape: Readonly<Record<SensorView['link'], string>> = {
  connected: '\u25cf',
  connecting: '\u25d0',
  searching: '\u25cb',
  lost: '\u2715',
  off: '\u2013',
};

export function SensorHealth({ athleteId }: { readonly athleteId: string }) {
  const { text, hub, say } = useApp();
  const sensors = hub.sensorsOf(athleteId);
  if (sensors.length === 0) return <p class="sensor-health sensor-health--none">{text.sensor.none}</p>;
  return (
    <ul class="sensor-health">
      {sensors.map((sensor) => (
        <li
          key={sensor.sensorId}
          class={`link-${sensor.link}`}
          title={sensor.detail === null ? sensorName(sensor, text) : say(sensor.detail)}
        >
          <span aria-hidden="true">{linkShape[sensor.link]}</span>{' '}
          {sensor.kinds.map((kind) => text.sensor.kinds[kind]).join(' + ')} {text.sensor.link[sensor.link]}
          {sensor.batteryPercent === null ? '' : `, ${text.sensor.battery(sensor.batteryPercent)}`}
        </li>
      ))}
    </ul>
  );
}
