// The rooms of a school, where this page is one: each a connection and a state of its own, as if the page were that hub's,
// so that views and alarms of a hub show a room unchanged. What may be done from here the hub decides.

import { batch, computed, type ReadonlySignal, type Signal, signal } from '@preact/signals';
import * as z from 'zod/mini';
import type { UpMessage } from '../../shared/messages/up.ts';
import type { AlarmPriority } from '../../shared/schema-parts.ts';
import { type SchoolRoom, schoolRoomsBodySchema } from '../../shared/school/pages.ts';
import { openBrowserSocket } from '../connection/browser-socket.ts';
import { HubConnection } from '../connection/hub-connection.ts';
import { higherPriority } from '../state/alarm-order.ts';
import { HubRequests } from '../state/hub-requests.ts';
import { HubState } from '../state/hub-state.ts';
import { MarkOutbox } from '../state/mark-outbox.ts';
import { PlanRunFollower } from '../state/plan-run-follower.ts';
import type { App } from './app-context.ts';
import { Commands } from './commands.ts';
import { HeldReadings } from './held-readings.ts';

/** How often it is asked which rooms there are, and which are silent. */
const lookEveryMs = 2_000;
/** And as often the wall takes the readings that have come: five times a second looks at once. Our choice. */
const tickEveryMs = 200;

export interface OpenRoom {
  readonly hub: string;
  /** The page as it would be at that hub. */
  readonly app: App;
  readonly told: ReadonlySignal<SchoolRoom>;
  readonly readings: HeldReadings;
}

export class RoomsFollower {
  readonly rooms = signal<readonly OpenRoom[]>([]);
  /** The most urgent sound that a room asks for. */
  readonly soundPriority: ReadonlySignal<AlarmPriority | null> = computed(() => {
    let priority: AlarmPriority | null = null;
    for (const { app } of this.rooms.value)
      priority = higherPriority(priority, app.hub.link.value === 'live' ? app.hub.soundPriority.value : null);
    return priority;
  });
  readonly #app: App;
  readonly #told = new Map<string, Signal<SchoolRoom>>();
  #asked = 0;
  #taken = 0;

  constructor(app: App) {
    this.#app = app;
  }

  start(): void {
    void this.#look();
    this.#app.timers.every(lookEveryMs, () => void this.#look());
    this.#app.timers.every(tickEveryMs, () =>
      batch(() => {
        for (const { app, readings } of this.rooms.peek()) {
          readings.look();
          app.hub.tick(this.#app.timers.nowMs());
        }
      }),
    );
  }

  /** A school that does not answer is said by the page's own connection. */
  async #look(): Promise<void> {
    this.#asked += 1;
    const own = this.#asked;
    try {
      const answer = await fetch('/api/school/rooms');
      const body = z.safeParse(schoolRoomsBodySchema, await answer.json());
      // One that a newer answer has overtaken would call a room silent, or heard, that no longer is.
      if (!body.success || own < this.#taken) return;
      this.#taken = own;
      this.#take(body.data.rooms);
    } catch {
      // Asked again.
    }
  }

  #take(rooms: readonly SchoolRoom[]): void {
    const added: OpenRoom[] = [];
    for (const room of rooms) {
      const known = this.#told.get(room.hub);
      if (known !== undefined) {
        known.value = room;
        continue;
      }
      const told = signal(room);
      this.#told.set(room.hub, told);
      added.push({ hub: room.hub, told, ...openRoom(this.#app, room.hub) });
    }
    if (added.length === 0) return;
    const nameOf = ({ told }: OpenRoom): string => told.peek().name;
    this.rooms.value = [...this.rooms.peek(), ...added].sort((one, other) =>
      nameOf(one).localeCompare(nameOf(other)),
    );
  }
}

function openRoom(app: App, room: string): Pick<OpenRoom, 'app' | 'readings'> {
  const { timers, sounder } = app;
  const newRequestId = (): string => `${Date.now().toString(36)}-${Math.random().toString(36).slice(2, 10)}`;
  const send = (message: UpMessage): boolean => connection.send(message);
  const requests = new HubRequests({ send, timers, newRequestId });
  // Marks are made in the room.
  const outbox = new MarkOutbox(() => false, newRequestId);
  const planRun = new PlanRunFollower(timers);
  const hub = new HubState({ outbox, requests, planRun, fromAfar: true });
  const readings = new HeldReadings((message, heardAtMs) => hub.apply(message, heardAtMs));
  const connection: HubConnection = new HubConnection({
    openSocket: (listener) => openBrowserSocket(listener, room),
    timers,
    random: Math.random,
    // Everything anew each time: a room's page has no part that it would have missed alone.
    resume: () => null,
    // Whoever lies there needs an output in the room: this page counts for none.
    pageState: () => ({ visible: false, soundReady: false, presented: [], sounding: null }),
    onMessage: (message, heardAtMs) => readings.take(message, heardAtMs),
    onMalformed: (reason) => hub.malformedReceived(reason),
    onLink: (link) => hub.linkChanged(link, timers.nowMs()),
  });
  connection.start();
  const commands = new Commands({
    hub,
    outbox,
    requests,
    sounder,
    timers,
    // No session is begun from afar.
    ledBy: () => undefined,
  });
  const roomApp = Object.create(app, {
    hub: { value: hub },
    outbox: { value: outbox },
    planRun: { value: planRun },
    connection: { value: connection },
    commands: { value: commands },
  }) as App;
  return { app: roomApp, readings };
}
