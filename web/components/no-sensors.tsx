// In place of a list of sensors: that none was found, and what to do first.

import { useApp } from '../app/app-context.ts';

/** Nobody who wears and wakes a sensor is helped where the hub cannot hear: then that comes first. */
export function NoSensors() {
  const { text, hub } = useApp();
  const words = text.setup;
  if (!hub.notices.value.some(({ code }) => isOfOwnRadio(code)))
    return <p class="hint">{words.sensorsNone}</p>;
  return (
    <>
      <p class="problem">{words.sensorsDeaf}</p>
      {hub.role.value === 'coach' ? (
        <p>
          <a class="button" href="/devices/computer">
            {text.computer.link}
          </a>
        </p>
      ) : null}
    </>
  );
}

/** What the hub says of an adapter of its own; of a radio in another room it says more beside it. */
const isOfOwnRadio = (code: string): boolean =>
  code.startsWith('radio.') && code !== 'radio.away' && code !== 'radio.elsewhere';
