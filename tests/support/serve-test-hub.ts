// A hub with a scripted source, a fake clock and a store in memory, served on a free port.

import type { SensorSource } from '../../hub/base/ports/sensor-source.ts';
import type { Store } from '../../hub/base/ports/store.ts';
import { auditLogIn } from '../../hub/devices/audit/audit-file.ts';
import { deviceFileIn } from '../../hub/devices/join/device-file.ts';
import { createDeviceRegister, type DeviceRegister } from '../../hub/devices/join/device-register.ts';
import { prepareLanAccess } from '../../hub/devices/lan/lan-access.ts';
import { createOwnPerson } from '../../hub/devices/own-person/own-person.ts';
import { Hub } from '../../hub/live/hub.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import type { CheckComputer } from '../../hub/machine/checking-process.ts';
import type { Finding } from '../../hub/machine/finding.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { RecordedSessions } from '../../hub/recordings/recorded-sessions.ts';
import type { ReviewRunner } from '../../hub/recordings/review/review-runner.ts';
import type { ProfileShelf } from '../../hub/sensors/bluetooth/profile-shelf.ts';
import type { Recording } from '../../hub/sensors/replay/recording.ts';
import { ReplaySource } from '../../hub/sensors/replay/replay-source.ts';
import { type HttpServer, startHttpServer } from '../../hub/server/http-server.ts';
import { said } from '../../shared/said.ts';
import type { SchoolLinkBody } from '../../shared/school/pages.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import { ok } from '../../src/result.ts';
import { createFakeClock, type FakeClock } from './fake-clock.ts';
import { inlineReview } from './inline-review.ts';
import { ownCookie, rememberOwnCookie, testOwnKey } from './own-person.ts';
import {
  createScriptedSource,
  type ScriptedSensor,
  type ScriptedSource,
  scriptedSensorIds,
} from './scripted-source.ts';

export interface ServedTestHub {
  readonly hub: Hub;
  readonly store: Store;
  readonly clock: FakeClock;
  readonly source: ScriptedSource;
  readonly server: HttpServer;
  readonly url: string;
  /** Where other devices are let in, with `lanIn`; empty without. */
  readonly lanUrl: string;
  readonly devices: DeviceRegister;
  close(): Promise<void>;
}

// Not begun anew with a hub: after a restart an id must not come again.
let nextId = 0;

export const testLog = { info: () => undefined, warn: () => undefined, error: () => undefined };

export interface TestAthlete {
  readonly athleteId: string;
  readonly name: string;
  readonly oximeter: { readonly sensorId: string; readonly name: string };
  readonly strap: { readonly sensorId: string; readonly name: string };
}

const someFindings: readonly Finding[] = [
  { check: 'node', state: 'good', said: said('machine.node.good', { version: '20.20.2' }) },
  { check: 'sound', state: 'warning', said: said('machine.sound.none') },
  { check: 'radio', state: 'fault', said: said('machine.radio.none') },
];

const mira: TestAthlete = {
  athleteId: 'mira',
  name: 'Mira',
  oximeter: { sensorId: scriptedSensorIds.oximeter, name: scriptedSensorIds.oximeter },
  strap: { sensorId: scriptedSensorIds.strap, name: scriptedSensorIds.strap },
};

/** One athlete, Mira, or those asked for, with both sensors; nothing moves until the test advances the clock. */
export async function serveTestHub(
  options: {
    webDirectory?: string;
    sourceKind?: SensorSource['source'];
    /** A data directory: other devices are let in over TLS, on loopback, and nothing is announced. */
    lanIn?: string;
    /** Those of an earlier hub, to be this one after a restart. */
    clock?: FakeClock;
    store?: Store;
    /** Where recordings are worked out; in the calling thread when left out. */
    review?: ReviewRunner;
    athletes?: readonly TestAthlete[];
    /** Outputs of the hub's own that can sound an alarm: 0 when left out. */
    hubSoundCount?: number | (() => number);
    /** The version of the program. */
    hubVersion?: string;
    /** What the first athlete wears instead of a clip and a strap. */
    worn?: readonly ScriptedSensor[];
    /** What the checks of the computer find; one of each kind when left out. */
    checkComputer?: CheckComputer;
    /** Where sensor profiles lie; none when left out. */
    /** Of a hub that sends to a school. */
    schoolLink?: () => SchoolLinkBody['school'];
    profileShelf?: ProfileShelf;
    /** Played from each session's start instead of what a test sends; its sensors are the first athlete's. */
    replay?: Recording;
  } = {},
): Promise<ServedTestHub> {
  const clock = options.clock ?? createFakeClock();
  const store = options.store ?? openStoreInMemory();
  const athletes = options.athletes ?? [mira];
  const source = createScriptedSource(
    clock,
    options.sourceKind,
    options.worn ??
      athletes.flatMap(({ oximeter, strap }) => [
        { ...oximeter, kind: 'oximeter' as const },
        { ...strap, kind: 'heartRate' as const },
      ]),
  );
  const sources =
    options.replay === undefined ? [source] : [new ReplaySource({ clock, recording: options.replay })];
  for (const { athleteId, name, oximeter, strap } of athletes) {
    store.saveAthlete({
      athleteId,
      name,
      simulated: options.sourceKind === 'simulated',
      settings: initialSettings,
    });
    for (const { sensorId } of [oximeter, strap]) store.assignSensor(sensorId, athleteId);
  }
  for (const { sensorId } of [...(options.worn ?? []), ...(options.replay?.sensors ?? [])])
    store.assignSensor(sensorId, athletes[0]?.athleteId ?? null);
  const makeId = () => {
    nextId += 1;
    return `id-${nextId}`;
  };
  const hub = new Hub({
    clock,
    pageClock: clock,
    store,
    sources,
    createPipeline: pipelineFactory(),
    log: testLog,
    makeId,
    timeScale: 1,
    simulated: options.sourceKind === 'simulated',
    ...(options.hubVersion !== undefined && { hubVersion: options.hubVersion }),
    hubSoundCount: () =>
      typeof options.hubSoundCount === 'function' ? options.hubSoundCount() : (options.hubSoundCount ?? 0),
  });
  const devices = createDeviceRegister({
    clock,
    file: deviceFileIn(options.lanIn ?? '/nonexistent'),
    makeId,
    athleteExists: (athleteId) => hub.athletes.some((athlete) => athlete.athleteId === athleteId),
  });
  const lan =
    options.lanIn === undefined
      ? null
      : await prepareLanAccess({
          dataDirectory: options.lanIn,
          host: '127.0.0.1',
          port: 0,
          clock,
          log: testLog,
        });
  const server = await startHttpServer(
    {
      hub,
      store,
      recordings: new RecordedSessions(store, options.review ?? inlineReview),
      clock,
      log: testLog,
      hubVersion: 'test',
    },
    {
      host: '127.0.0.1',
      port: 0,
      webDirectory: options.webDirectory ?? '/nonexistent',
      joining: { ownPerson: createOwnPerson(testOwnKey, clock), devices, lan },
      makeId,
      ...(options.schoolLink !== undefined && { schoolLink: options.schoolLink }),
      checkComputer: options.checkComputer ?? (async () => ok(someFindings)),
      ...(options.profileShelf !== undefined && { profileShelf: options.profileShelf }),
      ...(options.lanIn !== undefined && { audit: auditLogIn(options.lanIn, testLog) }),
    },
  );
  rememberOwnCookie(`http://127.0.0.1:${server.port}`, ownCookie);
  await hub.start();
  return {
    hub,
    store,
    clock,
    source,
    server,
    url: `http://127.0.0.1:${server.port}`,
    lanUrl: server.lanPort === null ? '' : `https://127.0.0.1:${server.lanPort}`,
    devices,
    async close() {
      await hub.stop();
      await server.close();
    },
  };
}
