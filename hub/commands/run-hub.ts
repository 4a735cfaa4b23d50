// The commands that run a hub: start (Bluetooth), demo (simulated) and replay. Each brings its sources and waits for a signal.

import { createHash } from 'node:crypto';
import { rm } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import { type Said, said } from '../../shared/said.ts';
import type { Athlete } from '../../shared/views.ts';
import { hubRunWords, programWords } from '../../shared/words/en-command-line.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import type { CommandIo } from '../base/command-io.ts';
import { type Config, readConfig } from '../base/config.ts';
import { createLog } from '../base/create-log.ts';
import { faultSaid, HubError, told } from '../base/hub-error.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import { scaledClock } from '../base/scaled-clock.ts';
import { systemClock } from '../base/system-clock.ts';
import { inviteFirstCoach } from '../devices/join/invitation.ts';
import { initialSettings } from '../live/initial-settings.ts';
import { restoreBackup } from '../recorder/backup/restore-backup.ts';
import { openSqliteStore } from '../recorder/sqlite-store.ts';
import { openThreadedStore } from '../recorder/thread/threaded-store.ts';
import { openFileRecording } from '../recordings/import/replay-of-file.ts';
import { radioHallOf } from '../sensors/bluetooth/elsewhere/elsewhere-radios.ts';
import { openBluetooth } from '../sensors/bluetooth/open-bluetooth.ts';
import { profileLinkOf } from '../sensors/bluetooth/profile-link.ts';
import { ProfileShelf } from '../sensors/bluetooth/profile-shelf.ts';
import { sensorMemoryIn } from '../sensors/bluetooth/sensor-memory.ts';
import type { Recording } from '../sensors/replay/recording.ts';
import { ReplaySource } from '../sensors/replay/replay-source.ts';
import { storedRecording } from '../sensors/replay/stored-recording.ts';
import { scenarioAthletes } from '../sensors/simulated/scenario.ts';
import { SimulatedSource } from '../sensors/simulated/simulated-source.ts';
import { openInBrowser } from './browser-opener.ts';
import { bootHub, type RunningHub } from './compose.ts';
import { radioLibraries } from './radio-libraries.ts';

/** Boots a hub and runs it until a signal; and again, with a backup in the place of its recordings, when that is asked for. */
async function runHub(
  boot: () => Promise<RunningHub>,
  config: Config,
  io: CommandIo,
  greeting: string,
): Promise<number> {
  let notices: readonly Said[] = [];
  for (let open = config.open; ; open = false) {
    const running = await boot();
    for (const notice of notices) running.hub.notices.add(notice);
    const backupPath = await runUntilAsked(running, { ...config, open }, io, greeting);
    if (backupPath === null) return 0;
    notices = [await restoreInPlace(backupPath, config)];
  }
}

/** Answers with the backup to be restored; null when it is to end. It is stopped then. */
async function runUntilAsked(
  running: RunningHub,
  config: Config,
  io: CommandIo,
  greeting: string,
): Promise<string | null> {
  const { ownPerson } = running.joining;
  for (const notice of [...running.hub.notices.list, ...running.terminalNotices])
    io.stdout.write(`${sayInEnglish(notice)}\n`);
  io.stdout.write(`${greeting}\n${hubRunWords.open(running.linkWith(ownPerson.linkCode()))}\n`);
  const isTerminal = 'isTTY' in io.stdout && io.stdout.isTTY === true;
  for (const line of inviteFirstCoach(running.joining, isTerminal)) io.stdout.write(`${line}\n`);
  if (config.open) await openInBrowser(running.linkWith(ownPerson.openerCode()), io.env);
  let stop: () => void = () => undefined;
  const signalled = new Promise<null>((resolve) => {
    stop = () => resolve(null);
    process.once('SIGINT', stop);
    process.once('SIGTERM', stop);
  });
  const backupPath = await Promise.race([signalled, running.restoreAsked]);
  process.off('SIGINT', stop);
  process.off('SIGTERM', stop);
  // A second signal while links are being closed means: now.
  const endNow = (): void => process.exit(130);
  process.once('SIGINT', endNow);
  await running.stop();
  process.off('SIGINT', endNow);
  return backupPath;
}

/** What to tell of it. Where it fails, the recordings are as they were. */
async function restoreInPlace(backupPath: string, config: Config): Promise<Said> {
  const { data: directory } = config;
  try {
    const wallNowMs = systemClock.wallNowMs();
    const restored = await restoreBackup({ backupPath, directory, replace: true, wallNowMs });
    return said('notice.restored', {
      sessions: restored.sessionCount,
      aside: restored.movedAsideTo ?? directory,
    });
  } catch (error) {
    createLog(config).error('restore failed', error);
    return said('notice.notRestored', { reason: faultSaid(error) });
  } finally {
    await rm(dirname(backupPath), { recursive: true, force: true });
  }
}

/** The sensor profiles of the data folder. What is wrong with one is told, and the others are used. */
async function openProfiles(dataFolder: string, io: CommandIo): Promise<ProfileShelf> {
  const shelf = await ProfileShelf.open({
    folder: join(dataFolder, 'profiles'),
    wallNowMs: () => systemClock.wallNowMs(),
  });
  for (const problem of shelf.problems)
    io.stderr.write(`${hubRunWords.profileNotUsed(sayInEnglish(problem))}\n`);
  return shelf;
}

/** In a thread of its own, so that no alarm waits for a disk. */
function openRecorder(config: Config): Promise<HubStore> {
  const log = createLog(config);
  return openThreadedStore({
    directory: config.data,
    clock: systemClock,
    warn: (message, error) => log.error(message, error),
  });
}

/** `slackwater start`: real sensors. */
export async function runStart(argv: string[], io: CommandIo): Promise<number> {
  const { config, positionals } = readConfig(argv, io.env);
  refusePositionals(positionals);
  return runHub(() => bootReal(config, io), config, io, hubRunWords.recording(config.data));
}

async function bootReal(config: Config, io: CommandIo): Promise<RunningHub> {
  const store = await openRecorder(config);
  const log = createLog(config);
  const profileShelf = await openProfiles(config.data, io);
  const memory = sensorMemoryIn(config.data, (message, error) => log.error(message, error));
  const known = new Map(memory.load().map((sensor) => [sensor.sensorId, sensor]));
  const source = openBluetooth({
    profiles: profileShelf.inUse.map(profileLinkOf),
    settings: { adapters: config.adapter.split(','), library: radioLibraries[config.radio] },
    clock: systemClock,
    log: (line) => log.info(line),
    memory,
    remembered: [...store.sensorAssignments().keys()].map(
      (sensorId) => known.get(sensorId) ?? { sensorId, name: sensorId, kinds: [] },
    ),
  });
  if (!source.ok) {
    await store.close();
    throw new HubError('config.badValue', told(hubRunWords.badAdapter(sayInEnglish(source.reason))));
  }
  return bootHub({
    config,
    clock: systemClock,
    store,
    sources: [source.value],
    simulated: false,
    profileShelf,
    bluetooth: source.value,
    radioHall: radioHallOf(source.value, { clock: systemClock, log: (line) => log.info(line) }),
  });
}

/** `slackwater demo`: simulated athletes, in a data folder of their own so that they never mix with real ones. */
export async function runDemo(argv: string[], io: CommandIo): Promise<number> {
  const { config: given, positionals } = readConfig(argv, io.env);
  refusePositionals(positionals);
  const config = { ...given, data: `${given.data}-demo` };
  return runHub(() => bootDemo(config, io), config, io, hubRunWords.simulated(config.data));
}

async function bootDemo(config: Config, io: CommandIo): Promise<RunningHub> {
  const store = await openRecorder(config);
  const clock = scaledClock(systemClock, config.speed);
  const athletes = scenarioAthletes(config.athletes, config.seed);
  enrol(
    store,
    athletes.map(({ athleteId, name, strapSensorId, oximeterSensorId }) => ({
      athlete: { athleteId, name, simulated: true, settings: initialSettings },
      sensorIds: [strapSensorId, oximeterSensorId],
    })),
  );
  const source = new SimulatedSource({ clock, athletes });
  const profileShelf = await openProfiles(config.data, io);
  return bootHub({ config, clock, store, sources: [source], simulated: true, profileShelf });
}

/** `slackwater replay FILE` or `--session ID`: a recording through the whole hub, into a data folder of its own. */
export async function runReplay(argv: string[], io: CommandIo): Promise<number> {
  const sessionFlag = argv.indexOf('--session');
  const sessionId = sessionFlag === -1 ? undefined : argv[sessionFlag + 1];
  const rest = sessionFlag === -1 ? argv : argv.toSpliced(sessionFlag, 2);
  const { config: given, positionals } = readConfig(rest, io.env);
  const [file] = positionals;
  if (positionals.length > 1 || (sessionId === undefined) === (file === undefined)) {
    throw new HubError('config.badFlag', told(hubRunWords.oneReplay));
  }
  const config = { ...given, data: `${given.data}-replay` };
  const clock = scaledClock(systemClock, config.speed);
  const { recording, athletes, close } =
    file === undefined ? openStoredReplay(given.data, sessionId!) : await openFileReplay(file);
  for (const notice of recording.notices) io.stdout.write(`${sayInEnglish(notice)}\n`);
  try {
    const boot = async (): Promise<RunningHub> => {
      const store = await openRecorder(config);
      enrol(store, athletes);
      const source = new ReplaySource({ clock, recording });
      // What was recorded is read as it was when it was recorded.
      const { simulated, profiles } = recording;
      const profileShelf = await openProfiles(given.data, io);
      return bootHub({
        config,
        clock,
        store,
        sources: [source],
        simulated,
        profileShelf,
        ...(profiles !== undefined && { profiles }),
      });
    };
    return await runHub(boot, config, io, hubRunWords.replaying(file ?? sessionId ?? '', config.speed));
  } finally {
    close();
  }
}

interface Enrolled {
  readonly athlete: Athlete;
  readonly sensorIds: readonly string[];
}

interface OpenedReplay {
  readonly recording: Recording;
  readonly athletes: readonly Enrolled[];
  close(): void;
}

async function openFileReplay(file: string): Promise<OpenedReplay> {
  const recording = await openFileRecording(file);
  const name = `Replay of ${basename(file)}`.slice(0, 80);
  // One athlete a file name, so that recordings of several files stay apart.
  const athleteId = `replay-${createHash('sha256').update(name).digest('hex').slice(0, 12)}`;
  return {
    recording,
    athletes: [
      {
        athlete: { athleteId, name, simulated: recording.simulated, settings: initialSettings },
        sensorIds: recording.sensors.map((sensor) => sensor.sensorId),
      },
    ],
    close: () => undefined,
  };
}

function openStoredReplay(directory: string, sessionId: string): OpenedReplay {
  const store = openSqliteStore({ directory });
  try {
    const recording = storedRecording(store, sessionId);
    const stored = store.readSession(sessionId);
    return {
      recording,
      athletes: (stored?.athletes ?? []).map((athlete) => ({
        athlete: { ...athlete, simulated: athlete.simulated || recording.simulated },
        sensorIds: (stored?.sensors ?? [])
          .filter((s) => s.athleteId === athlete.athleteId)
          .map((s) => s.sensorId),
      })),
      close: () => store.close(),
    };
  } catch (error) {
    store.close();
    throw error;
  }
}

/** Makes a source's own athletes known and gives them their sensors; nobody else wears any here. */
function enrol(
  store: Pick<HubStore, 'listAthletes' | 'sensorAssignments' | 'assignSensor' | 'saveAthlete'>,
  athletes: readonly Enrolled[],
): void {
  const known = new Map(store.listAthletes().map((athlete) => [athlete.athleteId, athlete]));
  for (const sensorId of store.sensorAssignments().keys()) store.assignSensor(sensorId, null);
  for (const { athlete, sensorIds } of athletes) {
    const settings = known.get(athlete.athleteId)?.settings ?? athlete.settings;
    store.saveAthlete({ ...athlete, settings });
    for (const sensorId of sensorIds) store.assignSensor(sensorId, athlete.athleteId);
  }
}

function refusePositionals(positionals: readonly string[]): void {
  if (positionals.length > 0)
    throw new HubError('config.badFlag', told(programWords.notExpected(positionals[0] ?? '')));
}
