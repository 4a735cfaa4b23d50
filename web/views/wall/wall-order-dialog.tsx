// In what order athletes stand on this device's wall, chosen by a person and kept; nothing else moves a tile.

import { useComputed } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import { Dialog } from '../../components/dialog.tsx';
import { Name } from '../../components/name.tsx';
import { isolated } from '../../state/format.ts';
import { inPlaces, movedBy } from '../../state/wall-order.ts';

export function WallOrderDialog({ onClose }: { readonly onClose: () => void }) {
  const { text, hub, preferences, language } = useApp();
  const words = text.wall;
  const placed = useComputed(() => inPlaces(hub.athletes.value, preferences.wallOrder.value));
  const ids = placed.value.map(({ athleteId }) => athleteId);
  const move = (athleteId: string, places: -1 | 1) => {
    preferences.wallOrder.value = movedBy(ids, athleteId, places);
  };
  const byName = () => {
    const collator = new Intl.Collator(language.language.peek());
    preferences.wallOrder.value = [...placed.value]
      .sort((a, b) => collator.compare(a.athlete.value.name, b.athlete.value.name))
      .map(({ athleteId }) => athleteId);
  };
  return (
    <Dialog title={words.orderTitle} onClose={onClose}>
      <p class="hint">{words.orderHelp}</p>
      <div class="button-row">
        <button type="button" class="button" onClick={byName}>
          {words.byName}
        </button>
        <button type="button" class="button" onClick={() => (preferences.wallOrder.value = [])}>
          {words.asInSession}
        </button>
      </div>
      <ol class="wall-order">
        {placed.value.map(({ athleteId, athlete }, index) => {
          const name = athlete.value.name;
          return (
            <li key={athleteId}>
              <span class="wall-order-name">
                {index + 1}. <Name>{name}</Name>
              </span>
              <button
                type="button"
                class="button"
                disabled={index === 0}
                aria-label={words.earlier(isolated(name))}
                onClick={() => move(athleteId, -1)}
              >
                {'\u2191'}
              </button>
              <button
                type="button"
                class="button"
                disabled={index === ids.length - 1}
                aria-label={words.later(isolated(name))}
                onClick={() => move(athleteId, 1)}
              >
                {'\u2193'}
              </button>
            </li>
          );
        })}
      </ol>
    </Dialog>
  );
}
