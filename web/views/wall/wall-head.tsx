// Above the wall: how many, how many hold and are in alarm, who else watches, and how the wall is laid out.

import { useComputed, useSignal } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import { PlanLink } from '../../components/plan-link.tsx';
import { isolated } from '../../state/format.ts';
import { countInAlarm } from '../../state/standing-alarms.ts';
import { WallOrderDialog } from './wall-order-dialog.tsx';

/** What is wrong with all by one cause is said once, in the frame, and counted as nobody's own. */
export function useWallCounts() {
  const { text, hub } = useApp();
  return useComputed(() => {
    const models = hub.athletes.value;
    const holding = models.filter((model) => model.phase.value === 'holding').length;
    return text.wall.counts(models.length, holding, countInAlarm(hub.alarmEntries.value));
  });
}

export function WallHead() {
  const { text, preferences } = useApp();
  const words = text.wall;
  const ordering = useSignal(false);
  const counts = useWallCounts();
  return (
    <header class="wall-head">
      <h1>{words.title}</h1>
      <p>{counts}</p>
      <PlanLink offer />
      <button type="button" class="button button--quiet" onClick={() => (ordering.value = true)}>
        {words.order}
      </button>
      <button
        type="button"
        class="button button--quiet"
        onClick={() => {
          preferences.farWall.value = true;
          // Where the browser can and the person has not forbidden it; without it the wall fills the window.
          void document.documentElement.requestFullscreen?.().catch(() => undefined);
        }}
      >
        {words.far}
      </button>
      <Presence />
      {ordering.value ? <WallOrderDialog onClose={() => (ordering.value = false)} /> : null}
    </header>
  );
}

/** Who has a page open, and whose page cannot be relied on. Told to coaches only. */
function Presence() {
  const { text, hub } = useApp();
  const words = text.wall.presence;
  const own = hub.deviceId.value;
  // A coach at the hub's own machine need not be told of the screen in front of them.
  const others = hub.presence.value.filter((page) => page.deviceId !== null || own !== null);
  if (others.length === 0) return null;
  return (
    <ul class="presence">
      {others.map((page) => (
        <li key={`${page.deviceId}-${page.pageId}`} class={`presence-${page.state}`}>
          {words.of(
            page.deviceId === null ? words.ownMachine : isolated(page.name) || text.role[page.role],
            page.deviceId !== null && page.deviceId === own ? words.thisDevice : words[page.state],
          )}
          {page.state === 'visible' && !page.soundReady ? `, ${words.noSound}` : ''}
        </li>
      ))}
    </ul>
  );
}
