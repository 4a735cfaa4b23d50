// The wall as it is read from across the room: everyone whole in the window, no buttons but the frame's for alarms. The
// strip at its head is there with and without alarms, so that a tile stays where it is when one comes up.

import { useComputed } from '@preact/signals';
import { useLayoutEffect } from 'preact/hooks';
import { useApp } from '../../app/app-context.ts';
import { dateFormat } from '../../i18n/locale.ts';
import { calledNames, inPlaces } from '../../state/wall-order.ts';
import { FarTile } from './far-tile.tsx';
import { FittedTiles } from './fitted-tiles.tsx';
import { useWallCounts } from './wall-head.tsx';
import './far-wall.css';

export function FarWall() {
  const { text, hub, preferences } = useApp();
  const words = text.wall;
  const counts = useWallCounts();
  const placed = useComputed(() => inPlaces(hub.athletes.value, preferences.wallOrder.value));
  const called = useComputed(() =>
    calledNames(placed.value.map(({ athleteId, athlete }) => ({ athleteId, name: athlete.value.name }))),
  );
  const leave = () => {
    preferences.farWall.value = false;
    if (document.fullscreenElement !== null) void document.exitFullscreen();
  };
  useDenseScreen(leave);
  return (
    <article class="far-wall">
      <FarClock />
      <header class="far-line">
        <h1 class="visually-hidden">{words.title}</h1>
        {hub.hub.value?.simulated ? <strong class="far-simulated">{text.simulatedBand}</strong> : null}
        <p class="far-counts">{counts}</p>
        <p class="far-label">{text.notMedicalDevice}</p>
        <button type="button" class="button far-leave" onClick={leave}>
          {words.near}
        </button>
      </header>
      <FittedTiles count={placed.value.length}>
        {placed.value.map((model) => (
          <li key={model.athleteId}>
            <FarTile
              athleteId={model.athleteId}
              name={model.athlete.value.name}
              called={called.value.get(model.athleteId) ?? ''}
              model={model}
            />
          </li>
        ))}
      </FittedTiles>
    </article>
  );
}

/** While the far wall stands, bars are away; Escape and leaving the full screen end it. */
function useDenseScreen(leave: () => void): void {
  const { screen } = useApp();
  // Before the paint: a key pressed as soon as the page is seen is heard.
  useLayoutEffect(() => {
    screen.isDense.value = true;
    const onKey = (event: KeyboardEvent) => {
      if (
        event.key === 'Escape' &&
        !event.defaultPrevented &&
        document.querySelector('dialog[open]') === null
      )
        leave();
    };
    const onFullscreen = () => {
      if (document.fullscreenElement === null) leave();
    };
    addEventListener('keydown', onKey);
    document.addEventListener('fullscreenchange', onFullscreen);
    return () => {
      screen.isDense.value = false;
      removeEventListener('keydown', onKey);
      document.removeEventListener('fullscreenchange', onFullscreen);
    };
  }, []);
}

/** The time of day in the strip where alarms will stand: a wall without a clock is looked at less. */
function FarClock() {
  const { hub } = useApp();
  const minute = useComputed(() => {
    // Read so that it is worked out again as the page's time goes on.
    hub.pageNowMs.value;
    return dateFormat({ timeStyle: 'short' }).format(Date.now());
  });
  return (
    <p class="far-clock" aria-live="off">
      {minute}
    </p>
  );
}
