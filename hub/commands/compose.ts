// Puts a hub together from its parts and starts it: sensors, store, alarm outputs, the way in for other devices, the server.
// Everything opened is closed again in reverse, at the end and when a later step fails.

import { resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type Said, said } from '../../shared/said.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import type { SensorProfile } from '../../src/profiles/sensor-profile.ts';
import type { Config } from '../base/config.ts';
import { HubError } from '../base/hub-error.ts';
import { hubVersion } from '../base/hub-version.ts';
import type { HubLog } from '../base/log.ts';
import type { AuditLog } from '../base/ports/audit-log.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import type { SensorSource } from '../base/ports/sensor-source.ts';
import { ServiceScope } from '../base/service-scope.ts';
import { systemBootClock } from '../base/system-boot-clock.ts';
import { systemClock } from '../base/system-clock.ts';
import type { Joining } from '../devices/join/joining.ts';
import { prepareJoining } from '../devices/join/prepare-joining.ts';
import { Hub } from '../live/hub.ts';
import { noSupervisionMemory } from '../live/supervision.ts';
import { supervisionFileIn } from '../live/supervision-file.ts';
import { type CheckedSettings, checkInProcess } from '../machine/checking-process.ts';
import { openAlarmOutputs } from '../outputs/open-alarm-outputs.ts';
import { soundAlarms } from '../outputs/sound-alarms.ts';
import { startWatchdog, type Watchdog } from '../outputs/watchdog/watchdog.ts';
import { ScheduledBackups } from '../recorder/backup/scheduled-backups.ts';
import { RecordedSessions } from '../recordings/recorded-sessions.ts';
import { createReviewPool } from '../recordings/review/review-pool.ts';
import { summaryThreads } from '../recordings/summary-work.ts';
import type { SendingToSchool } from '../school/publish/send-to-school.ts';
import type { BluetoothSource } from '../sensors/bluetooth/bluetooth-source.ts';
import type { RadioHall } from '../sensors/bluetooth/elsewhere/elsewhere-radios.ts';
import type { ProfileShelf } from '../sensors/bluetooth/profile-shelf.ts';
import { type HttpServer, startHttpServer } from '../server/http-server.ts';
import { auditOf, logOf, makeId, type PartsSoFar, pageOf, reviewThreads } from '../server/program-parts.ts';
import { openSensorBench } from './open-sensor-bench.ts';

/** The built program runs from dist/hub/, the page lies in dist/web/ beside it. */
const webDirectory = fileURLToPath(new URL('../web', import.meta.url));

export interface RunningHub {
  readonly hub: Hub;
  readonly server: HttpServer;
  readonly store: HubStore;
  readonly url: string;
  /** The page's address with a code that makes a browser the hub's own person's. */
  readonly linkWith: (code: string) => string;
  readonly joining: Joining;
  stop(): Promise<void>;
  /** What a person at the terminal should know and no page needs to repeat. */
  readonly terminalNotices: readonly Said[];
  /** Resolves with a backup that a person wants in the place of the recordings. */
  readonly restoreAsked: Promise<string>;
}

export interface HubParts {
  readonly config: Config;
  /** The session's clock. */
  readonly clock: Clock;
  readonly store: HubStore;
  readonly sources: readonly SensorSource[];
  /** The data are not of a person. */
  readonly simulated: boolean;
  /** Of a replayed recording: it is read by these, whatever lies on the shelf. */
  readonly profiles?: readonly SensorProfile[];
  /** None when left out. */
  readonly profileShelf?: ProfileShelf;
  /** The radio, where there is one. */
  readonly bluetooth?: BluetoothSource;
  /** Where radios on other computers report, of a hub with Bluetooth. */
  readonly radioHall?: RadioHall;
}

/** A process beside the hub that sounds when the hub stops; none where the settings say so. That it fails is an alarm. */
function openWatchdog(config: Config, hubOf: { readonly hub?: Hub }): Watchdog | undefined {
  if (!config.watchdog) return undefined;
  const subject = said('output.watchdog');
  return startWatchdog({
    clock: systemClock,
    settings: {
      data: config.data,
      supervised: config.supervised,
      'alarm-sound': config['alarm-sound'],
      'alarm-command': config['alarm-command'],
      'alarm-webhook': config['alarm-webhook'],
      'alarm-webhook-secret': config['alarm-webhook-secret'],
    },
    failed: (reason) => {
      hubOf.hub?.notices.add(said('notice.noWatchdog', { reason }));
      hubOf.hub?.raiseSupervision({
        kind: 'outputFailed',
        priority: hubOf.hub.session === null ? 'low' : 'medium',
        subject,
        reason,
      });
    },
    runsAgain: () => {
      hubOf.hub?.notices.add(said('notice.watchdogAgain'));
      hubOf.hub?.clearSupervision('outputFailed', subject);
    },
  });
}

/** Backups by the clock, of real recordings alone; none where the settings name no folder for them. */
function openScheduledBackups(
  { config, store, simulated }: HubParts,
  log: HubLog,
  isRecording: () => boolean,
): ScheduledBackups | undefined {
  const folder = config['backup-folder'];
  if (folder === undefined || simulated) return undefined;
  const passphrase = config['backup-passphrase'];
  if (passphrase === undefined) throw new HubError('config.badValue', said('backup.needsPassphrase'));
  const schedule = {
    folder: resolve(folder),
    everyHours: config['backup-every'],
    keep: config['backup-keep'],
    passphrase,
  };
  return new ScheduledBackups({ schedule, store, clock: systemClock, log, isRecording });
}

/** As they are now: a port that was left free to choose has been chosen. */
function checkedSettings(config: Config, server: HttpServer | undefined): CheckedSettings {
  const { data, host, lan } = config;
  return {
    data,
    host,
    port: server?.port ?? config.port,
    lan,
    'lan-host': config['lan-host'],
    'lan-port': server?.lanPort ?? config['lan-port'],
    certificate: config.certificate,
    radio: config.radio,
    'backup-folder': config['backup-folder'],
    'backup-every': config['backup-every'],
  };
}

/** A thread for what a person waits for, and others for what nobody does. */
function openRecordings(
  store: HubStore,
  log: HubLog,
  profiles: () => readonly SensorProfile[],
): RecordedSessions {
  const review = reviewThreads(log);
  const threads = Array.from({ length: summaryThreads }, () => review);
  return new RecordedSessions(store, review(), profiles, createReviewPool(threads));
}

/** Sends everything to a school; nothing of it is loaded where the settings name none. */
async function openSchool(
  scope: ServiceScope,
  { config, store }: HubParts,
  {
    hub,
    server,
    audit,
    log,
  }: {
    readonly hub: Hub;
    readonly server: HttpServer;
    readonly audit: AuditLog;
    readonly log: HubLog;
  },
): Promise<SendingToSchool | undefined> {
  if (config.school === undefined) return undefined;
  const { sendToSchool } = await import('../school/publish/send-to-school.ts');
  const { feed, eraseForSchool } = server;
  const sending = sendToSchool({ config, store, hub, feed, audit, log, clock: systemClock, eraseForSchool });
  scope.onClose(() => sending.close());
  return sending;
}

/** Builds and starts a hub. Takes the store: it is closed when the hub stops, and when it cannot be started. */
export async function bootHub(parts: HubParts): Promise<RunningHub> {
  return ServiceScope.opening(async (scope) => {
    const { config, clock, store, sources, simulated, profileShelf: shelf } = parts;
    const profiles = () => parts.profiles ?? shelf?.inUse ?? [];
    scope.onClose(() => store.close());
    const hubOf: PartsSoFar = {};
    const log = logOf(config, hubOf);
    const isWell = (): boolean => hubOf.hub?.supervision.every(({ priority }) => priority === 'low') ?? true;
    const { outputs, notices: terminalNotices } = openAlarmOutputs(config, systemClock, log, isWell);
    scope.onClose(() => outputs.close());
    const watchdog = openWatchdog(config, hubOf);
    scope.onClose(() => watchdog?.close());
    const bootClock = systemBootClock();
    const hub = new Hub({
      clock,
      pageClock: systemClock,
      store,
      sources,
      createPipeline: (...asked) => pipelineFactory(profiles())(...asked),
      profiles,
      log,
      makeId,
      timeScale: config.speed,
      simulated,
      hubSoundCount: () => outputs.soundReadyCount,
      hubVersion,
      ...(bootClock !== undefined && { bootClock }),
      ...(watchdog !== undefined && { wentRound: watchdog.wentRound }),
      // A demo that was stopped is no reason to alarm anybody at its next start.
      supervisionMemory: simulated ? noSupervisionMemory : supervisionFileIn(config.data),
    });
    hubOf.hub = hub;
    scope.onClose(soundAlarms(hub, outputs, config['alarm-names']));
    // Before any page can ask: what broke off goes on, or alarms.
    await hub.prepare();
    const joining = await prepareJoining(config, { hub, clock: systemClock, log, makeId });
    hubOf.joining = joining;
    const recordings = openRecordings(store, log, profiles);
    const scheduledBackups = openScheduledBackups(parts, log, () => hub.session !== null);
    scope.onClose(() => scheduledBackups?.close());
    let restore: (path: string) => void = () => undefined;
    const restoreAsked = new Promise<string>((answer) => {
      restore = answer;
    });
    const serverOf: { server?: HttpServer } = {};
    const sendingOf: { sending?: SendingToSchool | undefined } = {};
    const audit = auditOf(config, log, hub);
    const server = await startHttpServer(
      { hub, store, recordings, clock: systemClock, log, hubVersion },
      {
        host: config.host,
        port: config.port,
        webDirectory,
        joining,
        makeId,
        audit,
        ...(scheduledBackups !== undefined && { scheduledBackups }),
        ...(parts.radioHall !== undefined && { radioHall: parts.radioHall }),
        ...openSensorBench(hub, scope, parts),
        schoolLink: () => sendingOf.sending?.link() ?? null,
        restoring: { folder: config.data, begin: restore },
        checkComputer: checkInProcess(() => checkedSettings(config, serverOf.server), systemClock),
      },
    );
    serverOf.server = server;
    scope.onClose(() => server.close());
    sendingOf.sending = await openSchool(scope, parts, { hub, server, audit, log });
    // Said as soon as nothing goes round any more: what is closed after it may take its time.
    scope.onClose(() => watchdog?.close());
    // Last opened, first closed: pages hear that the session is over.
    scope.onClose(() => hub.stop());
    await hub.start();
    void outputs.test();
    scheduledBackups?.open();
    return {
      hub,
      server,
      store,
      joining,
      terminalNotices,
      ...pageOf(config, server),
      restoreAsked,
      stop: () => scope.close(),
    };
  });
}
