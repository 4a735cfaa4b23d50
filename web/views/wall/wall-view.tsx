// The coach's wall: everyone in the session at once, each in a place of their own that only a person changes; near, with
// what can be done for each, or far, made to be read from across the room.

import { useComputed } from '@preact/signals';
import { useApp } from '../../app/app-context.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { SoundCheckUnlessAlarmed } from '../../components/sound-check.tsx';
import { inPlaces } from '../../state/wall-order.ts';
import { FarWall } from './far-wall.tsx';
import { WallHead } from './wall-head.tsx';
import { WallTile } from './wall-tile.tsx';
import './wall.css';

export function WallView() {
  const { text, hub, preferences } = useApp();
  const words = text.wall;
  useDocumentTitle(words.title);
  if (hub.session.value?.status !== 'recording' || hub.athletes.value.length === 0) {
    const ended = hub.endedSessionId.value;
    return (
      <section class="sheet sheet--centred">
        <h1 class="quiet-title">{ended === null ? words.empty : text.live.sessionEnded}</h1>
        {ended === null ? null : (
          <a class="button button--primary" href={`/recordings/${ended}`}>
            {text.live.openRecording}
          </a>
        )}
        <a class="button" href="/">
          {text.live.toSetup}
        </a>
      </section>
    );
  }
  return preferences.farWall.value ? <FarWall /> : <NearWall />;
}

function NearWall() {
  const { text, hub, preferences } = useApp();
  const placed = useComputed(() => inPlaces(hub.athletes.value, preferences.wallOrder.value));
  const tiles = placed.value;
  return (
    <article class="wall">
      <SoundCheckUnlessAlarmed />
      <WallHead />
      <ol class={`tiles tiles--${tiles.length > 8 ? 'many' : tiles.length > 2 ? 'some' : 'few'}`}>
        {tiles.map((model) => (
          <li key={model.athleteId}>
            <WallTile model={model} />
          </li>
        ))}
      </ol>
      <p class="hint wall-help">{text.wall.keysHelp}</p>
    </article>
  );
}
