// Says of everything below it that no person is on the sensors: of a whole page, and of one room of a school.

import { useApp } from '../app/app-context.ts';

/** A landmark of the whole page; of one room, within its section, it is none. */
export function SimulatedBand({ isOfRoom = false }: { readonly isOfRoom?: boolean }) {
  const { text, hub } = useApp();
  if (!hub.hub.value?.simulated) return null;
  const Element = isOfRoom ? 'div' : 'aside';
  return (
    <Element class="simulated-band" {...(!isOfRoom && { 'aria-label': text.simulatedBand })}>
      <strong>{text.simulatedBand}</strong>
      <span>{text.simulatedBandDetail}</span>
      <strong class="simulated-again" aria-hidden="true">
        {text.simulatedBand}
      </strong>
    </Element>
  );
}
