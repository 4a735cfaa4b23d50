// Who wears each sensor, as the hub says it, and for a moment as a person has just chosen: until the hub has refused that, or has
// told of it.

import { type ReadonlySignal, useComputed, useSignal } from '@preact/signals';
import type { ShownSensor } from '../../shared/views.ts';
import type { Result } from '../../src/result.ts';
import { useApp } from '../app/app-context.ts';

/** The hub tells of sensors once a second at most, and not of one that is back as it was told before. */
const toldWithinMs = 2_000;

interface Choice {
  readonly athleteId: string | null;
  /** What the hub said when it was chosen: whatever it says since is later. */
  readonly before: string | null;
}

export interface SensorWearers {
  readonly sensors: ReadonlySignal<readonly ShownSensor[]>;
  /** `athleteId`: null for nobody. */
  readonly assign: (sensorId: string, athleteId: string | null) => Promise<Result<unknown>>;
}

export function useSensorWearers(): SensorWearers {
  const { hub, http, timers } = useApp();
  const chosen = useSignal<ReadonlyMap<string, Choice>>(new Map());
  const sensors = useComputed(() =>
    hub.sensors.value.map((sensor) => {
      const choice = chosen.value.get(sensor.sensorId);
      return choice === undefined || choice.before !== sensor.athleteId
        ? sensor
        : { ...sensor, athleteId: choice.athleteId };
    }),
  );
  return {
    sensors,
    assign: async (sensorId, athleteId) => {
      const before = hub.sensors.peek().find((sensor) => sensor.sensorId === sensorId)?.athleteId ?? null;
      const own: Choice = { athleteId, before };
      chosen.value = new Map([...chosen.peek(), [sensorId, own]]);
      const drop = () => {
        if (chosen.peek().get(sensorId) === own)
          chosen.value = new Map([...chosen.peek()].filter(([id]) => id !== sensorId));
      };
      const answer = await http.assignSensor(sensorId, athleteId);
      if (answer.ok) timers.after(toldWithinMs, drop);
      else drop();
      return answer;
    },
  };
}
