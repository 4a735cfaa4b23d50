// The real hub for tests of pages: invented athletes whose sensors send what a test has their bodies do, on a clock that
// runs with real time and can be moved on.

import type { Store } from '../../hub/base/ports/store.ts';
import type { ProfileShelf } from '../../hub/sensors/bluetooth/profile-shelf.ts';
import { encodeHeartRateMeasurement } from '../../hub/sensors/simulated/encode-heart-rate-measurement.ts';
import { encodePlxContinuous } from '../../hub/sensors/simulated/encode-plx-continuous.ts';
import type { Role } from '../../shared/schema-parts.ts';
import type { SchoolLinkBody } from '../../shared/school/pages.ts';
import { createFakeClock, type FakeClock } from './fake-clock.ts';
import { type ServedTestHub, serveTestHub, type TestAthlete } from './serve-test-hub.ts';
import { createTestDevice, type TestDevice } from './test-device.ts';
import type { TestPage } from './test-page.ts';

const webDirectory = new URL('../../dist/web', import.meta.url).pathname;

/** What the sensors of one athlete see. */
export interface BodyReading {
  /** Null: the clip sends nothing. */
  readonly spo2Percent: number | null;
  /** Null: the strap sends nothing. */
  readonly heartRateBpm: number | null;
  /** A change is marked, as the athlete would; left out, it stays as it was. */
  readonly holding?: boolean;
  /** The clip says that it gets a weak pulse (PLXS 1.0.1 Table 3.5, bit 5). */
  readonly lowPerfusion?: boolean;
  /** False: the strap says that it does not touch the skin. */
  readonly skinContact?: boolean;
}

/** A body by the second of the session. */
export type Body = (second: number) => BodyReading;

export const restingBody: Body = () => ({ spo2Percent: 98, heartRateBpm: 66 });
export const silentBody: Body = () => ({ spo2Percent: null, heartRateBpm: null });

const lowPerfusionBit = 1 << 5;
const inventedNames = [
  'Marit Oduya',
  'Teo Lindqvist',
  'Sana Whitlock',
  'Ilse Barraco',
  'Jonah Pereira-Voss',
  'Kaja Brandt',
  'Rui Amsel',
  'Nerys Okafor',
  'Bram Castellan',
  'Yuki Harrow',
  'Lena Tidemann',
  'Oskar Vale',
  'Pia Renko',
  'Dag Moreau',
  'Hana Sollis',
  'Ezra Quill',
];

const athletesOf = (count: number, names: readonly string[]): TestAthlete[] =>
  [...names, ...inventedNames].slice(0, count).map((name, index) => ({
    athleteId: `athlete-${index + 1}`,
    name,
    oximeter: { sensorId: `oximeter-${index + 1}`, name: `Finger clip ${index + 1}` },
    strap: { sensorId: `strap-${index + 1}`, name: `Chest strap ${index + 1}` },
  }));

/** Rest 60 s, hold 150 s, recover 70 s, again and again; each athlete 47 s further than the one before. */
export function holdsAgainAndAgain(athleteIndex: number): Body {
  return (second) => {
    const inCycle = (second + athleteIndex * 47) % 280;
    const holding = inCycle >= 60 && inCycle < 210;
    // The finger follows some 20 s later, and saturation falls after the first 25 s of a hold: so slowly that no forecast
    // comes near a floor of 88 %, since an alarm nobody asked for would stand in every picture.
    const lagged = Math.max(0, Math.min(inCycle - 60, 170) - 45);
    const recovery = inCycle > 230 ? Math.min(1, (inCycle - 230) / 18) : 0;
    const wobble = Math.sin(second * 1.7 + athleteIndex) * 0.5;
    const heartRateBpm = holding
      ? 78 - Math.min(24, (inCycle - 60) * 0.28)
      : inCycle >= 210
        ? 54 + Math.min(26, (inCycle - 210) * 1.2)
        : 74 + Math.sin(second / 1.6) * 7;
    return {
      holding,
      spo2Percent: Math.round(98.2 - 0.035 * lagged * (1 - recovery) + wobble * 0.4),
      heartRateBpm: Math.round(heartRateBpm + wobble * 3),
    };
  };
}

export interface PageHubOptions {
  readonly athleteCount: number;
  /** Of the first athletes, in place of the invented ones. */
  readonly names?: readonly string[];
  readonly simulated?: boolean;
  /** A session of all athletes runs; it does when left out. */
  readonly sessionRunning?: boolean;
  /** Seconds of it already behind. */
  readonly behindSeconds?: number;
  readonly bodyOf?: (athleteIndex: number) => Body;
  /** What was recorded before. */
  readonly store?: Store;
  readonly lanIn?: string;
  /** The hub's own loudspeaker: without it an athlete in a session is told that no output can sound. On when left out. */
  readonly loudspeaker?: boolean;
  /** The version of the program: one that differs goes on with no session of before. */
  readonly hubVersion?: string;
  /** Of a hub that sends to a school. */
  readonly schoolLink?: () => SchoolLinkBody['school'];
  /** Where sensor profiles lie. */
  readonly profileShelf?: ProfileShelf;
}

export interface PageHub extends ServedTestHub {
  readonly athletes: readonly TestAthlete[];
  readonly clock: FakeClock;
  /** From now on the athlete's sensors send what this body does. */
  live(athleteIndex: number, body: Body | BodyReading): void;
  /** Moves on at once, each second with its readings. */
  pass(seconds: number): void;
  /** As when the machine loses its power: nothing is ended, nothing more is written. */
  crash(): Promise<void>;
  /** The page of a device that has joined; needs `lanIn`. It is closed with the hub. */
  joined(role: Role, athleteId: string | null, deviceName: string): Promise<TestPage>;
  /** The cookie of such a device, for a browser that opens `lanUrl`. */
  joinedCookie(
    role: Role,
    athleteId: string | null,
    deviceName: string,
  ): Promise<{ readonly name: string; readonly value: string }>;
}

export async function openPageHub(options: PageHubOptions): Promise<PageHub> {
  const clock = createFakeClock(1_000, Date.now() - (options.behindSeconds ?? 0) * 1_000);
  const athletes = athletesOf(options.athleteCount, options.names ?? []);
  const served = await serveTestHub({
    webDirectory,
    clock,
    athletes,
    sourceKind: options.simulated === true ? 'simulated' : 'bluetooth',
    hubSoundCount: options.loudspeaker === false ? 0 : 1,
    ...(options.hubVersion !== undefined && { hubVersion: options.hubVersion }),
    ...(options.store !== undefined && { store: options.store }),
    ...(options.lanIn !== undefined && { lanIn: options.lanIn }),
    ...(options.profileShelf !== undefined && { profileShelf: options.profileShelf }),
    ...(options.schoolLink !== undefined && { schoolLink: options.schoolLink }),
  });
  const bodies = athletes.map((_, index) => options.bodyOf?.(index) ?? restingBody);
  const holding = athletes.map(() => false);
  const sendOf = (index: number): void => {
    const { athleteId, oximeter, strap } = athletes[index]!;
    const reading = bodies[index]!(Math.round((served.hub.sessionNowMs ?? 0) / 1_000));
    sendReading(served, oximeter.sensorId, strap.sensorId, reading);
    const holds = reading.holding;
    if (holds === undefined || holds === holding[index] || served.hub.snapshotOf(athleteId) === undefined)
      return;
    holding[index] = holds;
    served.hub.addMark({ athleteId, kind: holds ? 'holdStart' : 'holdEnd', atMs: null, text: null });
  };
  clock.every(1_000, () => {
    for (const index of athletes.keys()) sendOf(index);
  });
  if (options.sessionRunning !== false) {
    const begun = served.hub.startSession(
      athletes.map(({ athleteId }) => athleteId),
      'Dry session',
    );
    if (!begun.ok) throw new Error('the session did not start');
    clock.advance((options.behindSeconds ?? 0) * 1_000);
  }
  const joinedPages: TestPage[] = [];
  async function join(role: Role, athleteId: string | null, deviceName: string): Promise<TestDevice> {
    const made = served.devices.makeCode(role, athleteId);
    if (!made.ok) throw new Error('no code to join by');
    const device = createTestDevice(served.lanUrl);
    const { status } = await device.join(made.value.code, deviceName);
    if (status !== 200) throw new Error(`the device was refused with ${status}`);
    return device;
  }
  const stopRunning = runWithRealTime(clock);
  return {
    ...served,
    athletes,
    clock,
    live(athleteIndex, body) {
      bodies[athleteIndex] = typeof body === 'function' ? body : () => body;
      sendOf(athleteIndex);
    },
    pass: (seconds) => clock.advance(seconds * 1_000),
    async crash() {
      stopRunning();
      await served.server.close();
    },
    async joined(...as) {
      const page = (await join(...as)).openPage();
      joinedPages.push(page);
      return page;
    },
    async joinedCookie(...as) {
      const [name = '', ...value] = ((await join(...as)).cookie ?? '').split('=');
      return { name, value: value.join('=') };
    },
    async close() {
      stopRunning();
      for (const page of joinedPages) page.close();
      await served.close();
    },
  };
}

function sendReading(
  { source }: ServedTestHub,
  oximeterId: string,
  strapId: string,
  { spo2Percent, heartRateBpm, lowPerfusion, skinContact = true }: BodyReading,
): void {
  if (spo2Percent !== null)
    source.bytes(
      oximeterId,
      '2a5f',
      encodePlxContinuous({
        spo2Percent,
        pulseRateBpm: heartRateBpm ?? undefined,
        deviceStatus: lowPerfusion === true ? lowPerfusionBit : 0,
      }),
    );
  if (heartRateBpm !== null)
    source.bytes(strapId, '2a37', encodeHeartRateMeasurement({ heartRateBpm, skinContact }));
}

/** Fine enough for the hub's shortest interval, 25 ms. */
const stepMs = 20;

function runWithRealTime(clock: FakeClock): () => void {
  let toMs = performance.now();
  const timer = setInterval(() => {
    const nowMs = performance.now();
    clock.advance(nowMs - toMs);
    toMs = nowMs;
  }, stepMs);
  return () => clearInterval(timer);
}
