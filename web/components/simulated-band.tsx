// Says of everything below it that no person is on the sensors: of a whole page, and of one room of a school.

import { useApp } from '../app/app-context.ts';

export function SimulatedBand() {
  const { text, hub } = useApp();
  if (!hub.hub.value?.simulated) return null;
  return (
    <aside class="simulated-band" aria-label={text.simulatedBand}>
      <strong>{text.simulatedBand}</strong>
      <span>{text.simulatedBandDetail}</span>
      <strong class="simulated-again" aria-hidden="true">
        {text.simulatedBand}
      </strong>
    </aside>
  );
}
