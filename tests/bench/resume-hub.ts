// The hub as it is put together for `slackwater start`, with the sensors of a world of its own (resume-world.ts) in the radio's
// place. `RESUME_WORLD` names its socket. SIMULATED.

import { connect } from 'node:net';
import { readConfig } from '../../hub/base/config.ts';
import type { Clock } from '../../hub/base/ports/clock.ts';
import type { SensorListener, SensorSource, SensorStatus } from '../../hub/base/ports/sensor-source.ts';
import { systemClock } from '../../hub/base/system-clock.ts';
import { bootHub } from '../../hub/commands/compose.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openThreadedStore } from '../../hub/recorder/thread/threaded-store.ts';
import { type WorldWord, worldAthlete, worldSensors } from './resume-world.ts';

class WorldSource implements SensorSource {
  readonly source = 'simulated' as const;
  readonly #path: string;
  readonly #clock: Clock;
  #stop = (): void => undefined;

  constructor(path: string, clock: Clock) {
    this.#path = path;
    this.#clock = clock;
  }

  async start(listener: SensorListener): Promise<void> {
    for (const { sensorId } of worldSensors) listener.sensorChanged(statusOf(sensorId, 'searching'));
    const socket = connect(this.#path);
    this.#stop = () => void socket.destroy();
    let rest = '';
    socket.on('error', () => undefined);
    socket.on('data', (data) => {
      const lines = (rest + String(data)).split('\n');
      rest = lines.pop() ?? '';
      for (const line of lines) this.#hear(listener, JSON.parse(line) as WorldWord);
    });
  }

  async stop(): Promise<void> {
    this.#stop();
  }

  #hear(listener: SensorListener, word: WorldWord): void {
    const { sensorId } = word;
    if (word.type === 'link') listener.sensorChanged(statusOf(sensorId, word.link));
    else
      listener.packet({
        sensorId,
        characteristic: word.characteristic,
        bytes: new Uint8Array(Buffer.from(word.hex, 'hex')),
        receivedAtMs: this.#clock.nowMs(),
      });
  }
}

function statusOf(sensorId: string, link: SensorStatus['link']): SensorStatus {
  const sensor = worldSensors.find((each) => each.sensorId === sensorId)!;
  return {
    sensorId,
    name: sensor.name,
    kinds: [sensor.kind],
    source: 'simulated',
    link,
    detail: null,
    batteryPercent: null,
    rssiDbm: null,
  };
}

const { config } = readConfig(process.argv.slice(2), process.env);
const store = await openThreadedStore({ directory: config.data, clock: systemClock, warn: () => undefined });
if (store.listAthletes().length === 0) {
  store.saveAthlete({ ...worldAthlete, simulated: true, settings: initialSettings });
  for (const { sensorId } of worldSensors) store.assignSensor(sensorId, worldAthlete.athleteId);
}
const source = new WorldSource(process.env['RESUME_WORLD'] ?? '', systemClock);
const running = await bootHub({ config, clock: systemClock, store, sources: [source], simulated: false });
process.stdout.write(`Open ${running.linkWith(running.joining.ownPerson.linkCode())}\n`);
