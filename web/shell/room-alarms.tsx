// Alarms of the rooms of a school, on every view below the page's own: whose room, since when, and acknowledging, which goes
// to the hub of the room and is known there under the name of whoever did it.

import { useComputed } from '@preact/signals';
import { AppContext, useApp } from '../app/app-context.ts';
import type { OpenRoom, RoomsFollower } from '../app/rooms.ts';
import type { Messages } from '../i18n/en.ts';
import { formatAge, isolated } from '../state/format.ts';
import type { HubState } from '../state/hub-state.ts';
import type { AlarmEntry } from '../state/standing-alarms.ts';
import { EntryRow } from './alarm-entry.tsx';
import './room-alarms.css';

/** The most urgent of a room; the others are on its wall. Our choice. */
const mostRows = 3;

/** Of more rooms than this it is said how many call: the last of them may lie below the edge. Our choice. */
const mostRoomsUncounted = 2;

/** Never so high that nothing else is seen: many rooms are scrolled through. */
export function RoomAlarms({ follower }: { readonly follower: RoomsFollower }) {
  const { text } = useApp();
  const callingCount = useComputed(
    () => follower.rooms.value.filter(({ app }) => callingOf(app.hub).length > 0).length,
  );
  return (
    <div class="calling-rooms">
      {callingCount.value > mostRoomsUncounted ? (
        <p class="calling-rooms-count">{text.rooms.calling(callingCount.value)}</p>
      ) : null}
      {follower.rooms.value.map((room) => (
        <AppContext.Provider key={room.hub} value={room.app}>
          <AlarmsOfRoom room={room} />
        </AppContext.Provider>
      ))}
    </div>
  );
}

const callingOf = ({ link, alarmEntries }: HubState): readonly AlarmEntry[] =>
  link.value === 'live' ? alarmEntries.value.filter(({ acknowledged }) => !acknowledged) : [];

function AlarmsOfRoom({ room }: { readonly room: OpenRoom }) {
  const { text, hub } = useApp();
  const entries = useComputed(() => callingOf(hub));
  const oldestMs = useComputed(() =>
    Math.max(0, ...entries.value.map((entry) => ageOf(entry, hub.nowMs.value))),
  );
  const name = useComputed(() => room.told.value.name);
  if (entries.value.length === 0) return null;
  return (
    <section class="alarms room-alarms" aria-label={text.rooms.alarmsOf(isolated(name.value))}>
      <h2 class="room-alarms-name">
        {roomCalls(isolated(name.value), oldestMs.value, text)}
        {hub.hub.value?.simulated ? <strong class="room-simulated">{text.simulatedBand}</strong> : null}
      </h2>
      <ul class="alarm-rows">
        {entries.value.slice(0, mostRows).map((entry) => (
          <EntryRow key={entry.key} entry={entry} isFirst={false} isShort={false} />
        ))}
      </ul>
      {entries.value.length > mostRows ? (
        <p class="hint">
          <a href="/rooms">{text.rooms.more(entries.value.length - mostRows)}</a>
        </p>
      ) : null}
    </section>
  );
}

/** Which room calls, and for how long, in whole seconds: not at all in the first. */
export const roomCalls = (room: string, ageMs: number, text: Pick<Messages, 'rooms'>): string =>
  text.rooms.calls(room, ageMs < 1_000 ? null : formatAge(ageMs));

function ageOf(entry: AlarmEntry, nowMs: number | null): number {
  if (entry.type === 'watch') return Date.now() - entry.alarm.atWallMs;
  return nowMs === null ? 0 : nowMs - entry.first.raisedAtMs;
}
