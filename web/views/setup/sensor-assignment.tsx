// The sensors the hub has found: link, battery, who wears each, and what is missing for the athletes chosen.

import { useSignal } from '@preact/signals';
import type { Athlete } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { AthleteField } from '../../components/athlete-field.tsx';
import { HelpLink } from '../../components/help-link.tsx';
import { NoSensors } from '../../components/no-sensors.tsx';
import { sensorName } from '../../components/sensor-name.ts';
import { useSensorWearers } from '../../components/use-sensor-wearers.ts';
import { isolated } from '../../state/format.ts';

export interface SensorAssignmentProps {
  readonly athletes: readonly Athlete[];
  readonly picked: readonly Athlete[];
}

export function SensorAssignment({ athletes, picked }: SensorAssignmentProps) {
  const { text, say } = useApp();
  const words = text.setup;
  const problem = useSignal<string | null>(null);
  const wearers = useSensorWearers();
  const sensors = wearers.sensors.value;
  const assign = async (sensorId: string, athleteId: string | null) => {
    const answer = await wearers.assign(sensorId, athleteId);
    problem.value = answer.ok ? null : answer.reason;
  };
  return (
    <>
      {problem.value === null ? null : <p class="problem">{problem.value}</p>}
      {sensors.length === 0 ? <NoSensors /> : null}
      <ul class="sensors">
        {sensors.map((sensor) => (
          <li key={sensor.sensorId} class={`link-${sensor.link}`}>
            <div class="sensor-what">
              <strong>{sensorName(sensor, text)}</strong>
              <span>
                {sensor.kinds.map((kind) => text.sensor.kinds[kind]).join(' + ')}
                {sensor.kinds.length === 0 ? '' : ' \u00b7 '}
                {text.sensor.source[sensor.source]} {'\u00b7'} {text.sensor.link[sensor.link]} {'\u00b7'}{' '}
                {sensor.batteryPercent === null
                  ? text.sensor.batteryUnknown
                  : text.sensor.battery(sensor.batteryPercent)}
                {sensor.via === undefined ? '' : ` \u00b7 ${text.radios.via(isolated(sensor.via))}`}
              </span>
              {sensor.detail === null ? null : <span class="hint">{say(sensor.detail)}</span>}
            </div>
            <AthleteField
              label={words.assignTo(sensorName(sensor, text))}
              labelHidden
              athletes={athletes}
              athleteId={sensor.athleteId ?? ''}
              nobody={words.assignNobody}
              onChange={(athleteId) => void assign(sensor.sensorId, athleteId || null)}
            />
          </li>
        ))}
      </ul>
      <HelpLink chapter="sensors" section="finding" label={text.help.toSensors} />
      <ul class="warnings">
        {picked.flatMap((athlete) => {
          const own = sensors.filter((sensor) => sensor.athleteId === athlete.athleteId);
          const lines: string[] = [];
          if (!own.some((sensor) => sensor.kinds.includes('oximeter'))) {
            lines.push(words.noOximeter(isolated(athlete.name)));
          }
          if (!own.some((sensor) => sensor.kinds.includes('heartRate'))) {
            lines.push(words.noHeartRate(isolated(athlete.name)));
          }
          return lines.map((line) => <li key={line}>{line}</li>);
        })}
      </ul>
    </>
  );
}
