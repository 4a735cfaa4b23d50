// A whole hub for crossings of the floor: a sensor's bytes or a recording in, and out of it two pages of different people over real
// sockets, a loudspeaker, a command and a webhook. Everything on one fake clock, moved on step by step.

import { HubError, told } from '../../../hub/base/hub-error.ts';
import type { Store } from '../../../hub/base/ports/store.ts';
import { soundAlarms } from '../../../hub/outputs/sound-alarms.ts';
import { openStoreInMemory } from '../../../hub/recorder/sqlite-store.ts';
import type { Recording } from '../../../hub/sensors/replay/recording.ts';
import { createFakeClock, type FakeClock } from '../fake-clock.ts';
import { ownCookie } from '../own-person.ts';
import type { ScriptedSensor } from '../scripted-source.ts';
import { type ServedTestHub, serveTestHub } from '../serve-test-hub.ts';
import { createTestDevice } from '../test-device.ts';
import { type LiveOutputs, type OutputName, type OutputWord, openLiveOutputs } from './live-outputs.ts';
import { type LivePage, openLivePage } from './live-page.ts';

export const watchedAthleteId = 'mira';

export interface LiveWorld {
  readonly served: ServedTestHub;
  readonly clock: FakeClock;
  readonly store: Store;
  /** On the hub's own machine: sees everybody, and may do everything. */
  readonly coach: LivePage;
  /** The athlete's own phone, joined over TLS: sees one person only. */
  readonly phone: LivePage;
  readonly live: LiveOutputs;
  /** From now on nothing can be written. */
  breakDisk(): void;
  /** Moves on, and waits until all that was sent on the way has come. */
  step(byMs: number): Promise<void>;
  close(): Promise<void>;
}

export interface LiveWorldOptions {
  /** A folder for the certificate; may be shared by worlds one after another. */
  readonly lanIn: string;
  readonly worn?: readonly ScriptedSensor[];
  readonly replay?: Recording;
  readonly heard: (output: OutputName, word: OutputWord) => void;
}

export async function openLiveWorld(options: LiveWorldOptions): Promise<LiveWorld> {
  const clock = createFakeClock();
  const disk = { fails: false };
  const store = withFailingDisk(openStoreInMemory(), disk);
  const live = await openLiveOutputs(clock, options.heard);
  const served = await serveTestHub({
    clock,
    store,
    lanIn: options.lanIn,
    sourceKind: 'simulated',
    hubSoundCount: () => live.outputs.soundReadyCount,
    ...(options.worn !== undefined && { worn: options.worn }),
    ...(options.replay !== undefined && { replay: options.replay }),
  });
  const stopSounding = soundAlarms(served.hub, live.outputs);
  const code = served.devices.makeCode('athlete', watchedAthleteId);
  if (!code.ok) throw new Error('no code to join by');
  const device = createTestDevice(served.lanUrl);
  const { status } = await device.join(code.value.code, 'Phone');
  if (status !== 200 || device.cookie === null) throw new Error(`the phone was refused with ${status}`);
  const coach = openLivePage(served.url, ownCookie, clock, 'coach');
  const phone = openLivePage(served.lanUrl, device.cookie, clock, 'phone');
  const pages = [coach, phone];

  async function settle(): Promise<void> {
    // Loopback hands over within a turn of the loop; TLS and answers take some more.
    for (let quiet = 0; quiet < 3; ) {
      const before = coach.receivedCount + phone.receivedCount;
      await new Promise((resolve) => setImmediate(resolve));
      quiet = coach.receivedCount + phone.receivedCount === before && live.inFlight() === 0 ? quiet + 1 : 0;
    }
  }

  const world: LiveWorld = {
    served,
    clock,
    store,
    coach,
    phone,
    live,
    breakDisk() {
      disk.fails = true;
    },
    async step(byMs) {
      clock.advance(byMs);
      await settle();
    },
    async close() {
      for (const page of pages) page.close();
      stopSounding();
      device.close();
      // A folder that is shared keeps its certificate, and no place of the devices it may let in.
      for (const { deviceId } of served.devices.devices()) await served.devices.remove(deviceId);
      await served.close();
      await live.close();
    },
  };
  // The output's own trial at the start; the loudspeaker's is over when its burst is.
  const tried = live.outputs.test();
  for (let waited = 0; live.outputs.soundReadyCount === 0; waited += 100) {
    if (waited > 10_000) throw new Error('the loudspeaker never worked');
    await world.step(100);
  }
  await tried;
  const isIn = (page: LivePage) => page.state.hub.value !== null;
  for (let turns = 0; !pages.every(isIn); turns += 1) {
    if (turns > 1_000) throw new Error('a page was not let in');
    await new Promise((resolve) => setTimeout(resolve, 1));
  }
  return world;
}

function withFailingDisk(store: Store, disk: { readonly fails: boolean }): Store {
  const writing = new Set(['commit', 'appendPacket', 'saveMark', 'saveHold', 'saveAlarm', 'saveLinkEvent']);
  return new Proxy(store, {
    get(target, name) {
      const value = Reflect.get(target, name, target) as unknown;
      if (typeof value !== 'function') return value;
      return (...args: unknown[]) => {
        if (disk.fails && writing.has(String(name)))
          throw new HubError('data.full', told('The disk is full.'));
        return value.apply(target, args) as unknown;
      };
    },
  });
}
