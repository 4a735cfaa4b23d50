// Every sensor and who wears it, to be changed also while a session runs.

import type { Athlete } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { AthleteField } from '../../components/athlete-field.tsx';
import { NoSensors } from '../../components/no-sensors.tsx';
import { sensorName } from '../../components/sensor-name.ts';
import { useSensorWearers } from '../../components/use-sensor-wearers.ts';
import { isolated } from '../../state/format.ts';
import type { Taking } from './people-view.tsx';

export function WhoWears({ athletes, take }: Taking & { readonly athletes: readonly Athlete[] }) {
  const { text, say } = useApp();
  const wearers = useSensorWearers();
  const sensors = wearers.sensors.value;
  if (sensors.length === 0) return <NoSensors />;
  return (
    <ul class="worn-sensors">
      {sensors.map((sensor) => (
        <li key={sensor.sensorId}>
          <span>
            <strong>{sensorName(sensor, text)}</strong>{' '}
            <span class="hint">
              {sensor.kinds.map((kind) => `${text.sensor.kinds[kind]} `).join('+ ')}
              {sensor.kinds.length === 0 ? '' : '\u00b7 '}
              {text.sensor.link[sensor.link]}
              {sensor.via === undefined ? '' : ` \u00b7 ${text.radios.via(isolated(sensor.via))}`}
            </span>
            {sensor.detail === null ? null : <small class="hint sensor-detail">{say(sensor.detail)}</small>}
          </span>
          <AthleteField
            label={text.setup.assignTo(sensorName(sensor, text))}
            labelHidden
            athletes={athletes}
            athleteId={sensor.athleteId ?? ''}
            nobody={text.setup.assignNobody}
            onChange={(athleteId) => void take(wearers.assign(sensor.sensorId, athleteId || null))}
          />
        </li>
      ))}
    </ul>
  );
}
