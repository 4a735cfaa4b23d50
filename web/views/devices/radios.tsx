// Bluetooth adapters and radios in other rooms: what each holds, how many more it can take, and sensors that a person says are
// the same under another address.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { RadiosBody } from '../../../shared/http.ts';
import type { ShownSensor } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import { useInOrder } from '../../app/use-in-order.ts';
import { ChoiceField } from '../../components/choice-field.tsx';
import { Name } from '../../components/name.tsx';
import { endOfAddress, sensorName } from '../../components/sensor-name.ts';
import type { Messages } from '../../i18n/en.ts';

/** Links come and go in seconds; the list is small. */
const lookEveryMs = 3_000;

export function Radios() {
  const { text, hub, http } = useApp();
  const words = text.radios;
  const body = useSignal<RadiosBody | null>(null);
  const problem = useSignal<string | null>(null);
  const ask = useInOrder();
  const load = async () => {
    const isNews = ask();
    const answer = await http.radios();
    if (isNews() && answer.ok) body.value = answer.value;
  };
  const live = hub.link.value === 'live';
  useEffect(() => {
    if (!live) return undefined;
    void load();
    const looking = setInterval(() => void load(), lookEveryMs);
    return () => clearInterval(looking);
  }, [live]);
  const say = async (sensorId: string, as: string | null) => {
    const answer = await http.setSameSensor(sensorId, as);
    problem.value = answer.ok ? null : answer.reason;
    await load();
  };
  const loaded = body.value;
  // A hub of simulated sensors or a replay has none.
  if (loaded === null || loaded.radios.length === 0) return null;
  return (
    <section class="step">
      <h2>{words.title}</h2>
      {problem.value === null ? null : <p class="problem">{problem.value}</p>}
      <ul class="device-list">
        {loaded.radios.map((radio) => (
          <RadioLine key={radio.radioId} radio={radio} />
        ))}
      </ul>
      <p class="hint">{words.more}</p>
      <SameSensors sensors={hub.sensors.value} same={loaded.sameSensors} say={say} />
    </section>
  );
}

function RadioLine({ radio }: { readonly radio: RadiosBody['radios'][number] }) {
  const { text, hub, say } = useApp();
  const words = text.radios;
  const nameOf = (sensorId: string): string => nameAmong(hub.sensors.value, sensorId, text);
  const { state, freePlaces, problem, clockUncertaintyMs, packetsLost } = radio;
  return (
    <li>
      <span class="device-what">
        <strong>
          <Name>{radioName(radio, text)}</Name>
          <small class="tag">{radio.deviceId === null ? words.here : words.elsewhere}</small>
        </strong>
        <span class={state === 'away' ? 'device-state device-state--silent' : ''}>{words.state[state]}</span>
        <span>
          {words.links(radio.sensorIds.length)}
          {radio.sensorIds.length === 0 ? '' : `: ${radio.sensorIds.map(nameOf).join(', ')}`}
        </span>
        {state === 'on' ? (
          <span>{freePlaces === null ? words.freeUnknown : words.free(freePlaces)}</span>
        ) : null}
        {radio.deviceId === null || clockUncertaintyMs === null ? null : (
          <span>{words.clock(Math.ceil(clockUncertaintyMs))}</span>
        )}
        {packetsLost === 0 ? null : <span class="problem">{words.lost(packetsLost)}</span>}
        {problem === null ? null : <span class="hint">{say(problem)}</span>}
      </span>
    </li>
  );
}

/** An adapter of the hub's computer is called what its setting is (hub/sensors/bluetooth/open-bluetooth.ts): said for people. */
function radioName({ deviceId, name }: RadiosBody['radios'][number], text: Messages): string {
  if (deviceId !== null) return name || text.devices.unnamed;
  const { firstAdapter, adapter, adapterAt } = text.radios;
  if (name === 'default' || name === '') return firstAdapter;
  const index = /^hci(\d+)$/.exec(name)?.[1];
  return index === undefined ? adapterAt(name) : adapter(Number(index) + 1, name);
}

interface SameSensorsProps {
  readonly sensors: readonly ShownSensor[];
  readonly same: RadiosBody['sameSensors'];
  readonly say: (sensorId: string, as: string | null) => Promise<void>;
}

/** An assigned sensor that is missed may be back under another address: where it tells no serial number, a person knows. */
function SameSensors({ sensors, same, say }: SameSensorsProps) {
  const { text } = useApp();
  const words = text.radios;
  const missed = sensors.filter(
    ({ athleteId, link, isHeard }) =>
      athleteId !== null && link !== 'connected' && link !== 'connecting' && isHeard !== true,
  );
  const heard = sensors.filter(({ athleteId, link }) => athleteId === null && link === 'off');
  const nameOf = (sensorId: string): string => nameAmong(sensors, sensorId, text);
  return (
    <>
      {missed.map((sensor) => {
        const others = heard.filter(({ kinds }) => kinds.some((kind) => sensor.kinds.includes(kind)));
        return others.length === 0 ? null : (
          <ChoiceField
            key={sensor.sensorId}
            label={words.sameAs(sensorName(sensor, text))}
            value=""
            choices={[
              ['', words.notAmong],
              ...others.map(({ sensorId, name }): [string, string] => [
                sensorId,
                `${name} (${endOfAddress(sensorId)})`,
              ]),
            ]}
            onChange={(sensorId) => {
              if (sensorId !== '') void say(sensorId, sensor.sensorId);
            }}
          />
        );
      })}
      {same.length === 0 ? null : (
        <ul class="device-list">
          {same.map(({ sensorId, as }) => (
            <li key={sensorId}>
              <span class="device-what">{words.isSame(nameOf(as), endOfAddress(sensorId))}</span>
              <button type="button" class="button" onClick={() => void say(sensorId, null)}>
                {words.notSame}
              </button>
            </li>
          ))}
        </ul>
      )}
    </>
  );
}

function nameAmong(sensors: readonly ShownSensor[], sensorId: string, text: Messages): string {
  const known = sensors.find((sensor) => sensor.sensorId === sensorId);
  return sensorName(known ?? { sensorId, name: sensorId }, text);
}
