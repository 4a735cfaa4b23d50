// The wall of a school: every room with everybody in its session, as the room's own wall shows them, and rooms of which
// nothing is heard.

import { useComputed } from '@preact/signals';
import { AppContext, useApp } from '../../app/app-context.ts';
import type { OpenRoom } from '../../app/rooms.ts';
import { useDocumentTitle } from '../../app/use-document-title.ts';
import { SimulatedBand } from '../../components/simulated-band.tsx';
import { SoundCheckUnlessAlarmed } from '../../components/sound-check.tsx';
import { formatClockTime, isolated } from '../../state/format.ts';
import { useWallCounts } from '../wall/wall-head.tsx';
import { WallTile } from '../wall/wall-tile.tsx';
import '../wall/wall.css';
import './rooms.css';

export function RoomsView() {
  const { text, rooms, hub } = useApp();
  const words = text.rooms;
  useDocumentTitle(words.title);
  const all = rooms.value?.rooms.value ?? [];
  return (
    <article class="wall rooms">
      <SoundCheckUnlessAlarmed />
      <header class="rooms-head">
        <h1>{words.title}</h1>
        {hub.role.value === 'coach' ? (
          <a class="button" href="/rooms/health">
            {text.schoolHealth.link}
          </a>
        ) : null}
        <p class="hint">{words.intro}</p>
      </header>
      {all.length === 0 ? <p class="empty">{words.none}</p> : null}
      {all.map((room) => (
        <AppContext.Provider key={room.hub} value={room.app}>
          <Room room={room} />
        </AppContext.Provider>
      ))}
    </article>
  );
}

function Room({ room }: { readonly room: OpenRoom }) {
  const { text, hub } = useApp();
  const words = text.rooms;
  const counts = useWallCounts();
  // When it was heard last is told every two seconds: all tiles would be made anew with it.
  const name = useComputed(() => room.told.value.name).value;
  const isSilent = useComputed(() => room.told.value.isSilent).value;
  const isLive = hub.link.value === 'live' && !isSilent;
  const tiles = hub.athletes.value;
  const isRecording = hub.recording.value;
  return (
    <section class="room" aria-label={name}>
      <header class="wall-head">
        <h2>{name}</h2>
        <p>{isLive ? (isRecording ? counts : words.noSession) : null}</p>
      </header>
      {isLive ? <SimulatedBand isOfRoom /> : <SilentSince room={room} />}
      {isLive && isRecording ? (
        <ol class={`tiles tiles--${tiles.length > 8 ? 'many' : tiles.length > 2 ? 'some' : 'few'}`}>
          {tiles.map((model) => (
            <li key={model.athleteId}>
              <WallTile model={model} />
            </li>
          ))}
        </ol>
      ) : null}
    </section>
  );
}

function SilentSince({ room }: { readonly room: OpenRoom }) {
  const { text } = useApp();
  const { name, heardAtWallMs } = room.told.value;
  return (
    <p class="room-silent" role="status">
      {heardAtWallMs === null
        ? text.rooms.neverHeard(isolated(name))
        : text.rooms.silentSince(isolated(name), formatClockTime(heardAtWallMs, Date.now()))}
    </p>
  );
}
