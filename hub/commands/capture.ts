// slackwater capture: lists the sensors in the air, or writes of one sensor its raw bytes, so that a profile can be written
// for it, or a report of how it behaves, which tells nothing of a person.

import { once } from 'node:events';
import { createWriteStream, existsSync, type WriteStream } from 'node:fs';
import { readFile, writeFile } from 'node:fs/promises';
import { release } from 'node:os';
import { finished } from 'node:stream/promises';
import { parseArgs } from 'node:util';
import type { Said } from '../../shared/said.ts';
import { captureWords } from '../../shared/words/en-command-line.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import { captureHeader, captureLine } from '../../src/profiles/capture-file.ts';
import { parseProfile, profileProblemSaid } from '../../src/profiles/profile-file.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import { hubVersion } from '../base/hub-version.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { SensorListener, SensorPacket, SensorStatus } from '../base/ports/sensor-source.ts';
import { systemClock } from '../base/system-clock.ts';
import type { BluetoothSource } from '../sensors/bluetooth/bluetooth-source.ts';
import type { ProfileLink } from '../sensors/bluetooth/link-state.ts';
import { defaultBluetoothSettings, openBluetooth } from '../sensors/bluetooth/open-bluetooth.ts';
import { profileLinkOf } from '../sensors/bluetooth/profile-link.ts';
import type { DiscoveredCharacteristic } from '../sensors/bluetooth/radio.ts';
import type { RadioLibrary } from '../sensors/bluetooth/radio-messages.ts';
import {
  type ReportSurroundings,
  reportText,
  SensorReportBuilder,
} from '../sensors/bluetooth/sensor-report.ts';
import { isRadioName, radioLibraries } from './radio-libraries.ts';

interface Io {
  readonly stdout: { write(text: string): unknown };
  readonly stderr: { write(text: string): unknown };
  /** Ends the capture; Ctrl-C where it is left out. */
  readonly signal?: AbortSignal;
}

/** What tests put in place of the machine. */
export interface CaptureSurroundings {
  readonly clock: Clock;
  readonly radioEntry?: string;
}

/** What is to be captured, as the command line said it. */
interface Wish {
  readonly seconds: number;
  readonly sensorName: string | undefined;
  readonly outPath: string | undefined;
  readonly reportPath: string | undefined;
  readonly profilePath: string | undefined;
  readonly adapter: string;
  readonly library: RadioLibrary;
}

/** `argv` is what follows `capture`. Answers the exit status: 0 done, 2 when nothing could be captured. */
export async function runCapture(
  argv: readonly string[],
  io: Io,
  surroundings: CaptureSurroundings = { clock: systemClock },
): Promise<number> {
  const complain = (text: string): number => {
    io.stderr.write(`slackwater capture: ${text}\n`);
    return 2;
  };
  const wish = readWish(argv);
  if (!wish.ok) return complain(wish.reason);
  const profiles = await readProfiles(wish.value.profilePath);
  if (!profiles.ok) return complain(profiles.reason);
  const { adapter, library, sensorName, seconds, reportPath } = wish.value;
  // Said before anybody has worn a sensor for a minute.
  if (reportPath !== undefined && existsSync(reportPath))
    return complain(captureWords.alreadyThere(reportPath));
  const opened = openBluetooth({
    settings: { adapters: [adapter], library },
    clock: surroundings.clock,
    log: () => {},
    remembered: [],
    profiles: profiles.value,
    takeEverything: true,
    ...(surroundings.radioEntry === undefined ? {} : { radioEntry: surroundings.radioEntry }),
  });
  if (!opened.ok) return complain(sayInEnglish(opened.reason));

  const enough = new AbortController();
  const stop = (): void => enough.abort();
  surroundings.clock.after(seconds * 1_000, stop);
  io.signal?.addEventListener('abort', stop);
  if (io.signal === undefined) process.once('SIGINT', stop);

  const capture = new Capture(opened.value, wish.value, io, surroundings.clock, stop);
  await opened.value.start(capture);
  if (!enough.signal.aborted) await once(enough.signal, 'abort');
  await opened.value.stop();
  await capture.close();
  if (capture.failure !== null) return complain(capture.failure);
  if (sensorName === undefined) return capture.heardAny ? 0 : complain(captureWords.nothingHeard);
  if (!capture.heardWanted) return complain(captureWords.notHeard(sensorName));
  if (wish.value.outPath !== undefined)
    io.stdout.write(`${captureWords.written(capture.packets, wish.value.outPath)}\n`);
  if (reportPath !== undefined) {
    const unwritten = await writeReport(reportPath, capture.report(surroundingsOf(wish.value)));
    if (unwritten !== null) return complain(unwritten);
    io.stdout.write(`${captureWords.reported(capture.packets, reportPath)}\n`);
  }
  return capture.packets > 0 ? 0 : 2;
}

/** Listens to the radio: lists what appears, or connects to the one that is wanted and writes what it sends. */
class Capture implements SensorListener {
  packets = 0;
  /** Why the file could not be written; null when all is well. */
  failure: string | null = null;
  readonly #source: BluetoothSource;
  readonly #wish: Wish;
  readonly #io: Io;
  readonly #clock: Clock;
  readonly #stop: () => void;
  readonly #report: SensorReportBuilder;
  readonly #found = new Map<string, SensorStatus>();
  #wanted: string | null = null;
  #file: WriteStream | null = null;
  #isTableTold = false;
  #startedAtMs = 0;

  constructor(source: BluetoothSource, wish: Wish, io: Io, clock: Clock, stop: () => void) {
    this.#source = source;
    this.#wish = wish;
    this.#io = io;
    this.#clock = clock;
    this.#stop = stop;
    this.#report = new SensorReportBuilder(clock.nowMs());
  }

  get heardAny(): boolean {
    return this.#found.size > 0;
  }

  get heardWanted(): boolean {
    return this.#wanted !== null;
  }

  /** As text, of the sensor that was wanted. */
  report(where: ReportSurroundings): string {
    const words = { about: captureWords.reportAbout, toFillIn: captureWords.reportToFillIn };
    return reportText(this.#report.build(where, words, this.#clock.nowMs()), this.#wanted ?? '');
  }

  packet(packet: SensorPacket): void {
    const { sensorId, characteristic, bytes, receivedAtMs } = packet;
    if (sensorId !== this.#wanted) return;
    if (this.packets === 0) this.#startedAtMs = receivedAtMs;
    this.packets += 1;
    this.#report.packet(packet);
    const atMs = Math.max(0, receivedAtMs - this.#startedAtMs);
    this.#file?.write(captureLine({ atMs, characteristic, bytes }));
  }

  sensorChanged(sensor: SensorStatus): void {
    const before = this.#found.get(sensor.sensorId);
    this.#found.set(sensor.sensorId, sensor);
    const { sensorName, outPath } = this.#wish;
    if (sensorName === undefined) {
      if (before?.name !== sensor.name) this.#io.stdout.write(`${lineOf(sensor)}\n`);
    } else if (this.#wanted === null && fits(sensor, sensorName)) {
      this.#begin(sensor, outPath);
    } else if (sensor.sensorId === this.#wanted && before?.link !== sensor.link) {
      const detail = sensor.detail === null ? '' : `: ${sayInEnglish(sensor.detail)}`;
      this.#io.stdout.write(`${sensor.link}${detail}\n`);
      if (sensor.link === 'connected') this.#tellTable(this.#source.characteristicsOf(sensor.sensorId));
    }
    if (sensor.sensorId !== this.#wanted) return;
    this.#report.status(sensor, this.#clock.nowMs());
    this.#report.table(this.#source.characteristicsOf(sensor.sensorId));
  }

  sourceNotices(notices: readonly Said[]): void {
    for (const notice of notices) this.#io.stderr.write(`${sayInEnglish(notice)}\n`);
  }

  async close(): Promise<void> {
    if (this.#file === null) return;
    this.#file.end();
    // A file that could not be written has said so by its own event.
    await finished(this.#file).catch(() => {});
  }

  #begin(sensor: SensorStatus, outPath: string | undefined): void {
    this.#wanted = sensor.sensorId;
    if (outPath !== undefined) {
      this.#file = createWriteStream(outPath, { flags: 'wx', mode: 0o600 });
      this.#file.on('error', (error) => {
        this.failure = `${outPath}: ${error.message}`;
        this.#stop();
      });
      this.#file.write(captureHeader(sensor.name));
    }
    this.#io.stdout.write(`${captureWords.connecting(lineOf(sensor))}\n`);
    this.#source.setWantedSensors(new Set([sensor.sensorId]));
  }

  /** On the screen and, as comments, in the file: what may be subscribed, and what a start command may be written to. */
  #tellTable(characteristics: readonly DiscoveredCharacteristic[]): void {
    if (this.#isTableTold || characteristics.length === 0) return;
    this.#isTableTold = true;
    const lines = tableLines(characteristics);
    this.#io.stdout.write(lines.map((line) => `${line}\n`).join(''));
    this.#file?.write(lines.map((line) => `# ${line}\n`).join(''));
  }
}

function readWish(argv: readonly string[]): Result<Wish> {
  let parsed: ReturnType<typeof readArguments>;
  try {
    parsed = readArguments(argv);
  } catch (error) {
    return failed(
      `${error instanceof Error ? error.message : String(error)}\n${captureWords.usage.trimEnd()}`,
    );
  }
  const { values, sensorName } = parsed;
  const seconds = Number(values.seconds ?? (sensorName === undefined ? 10 : 60));
  if (!(seconds > 0 && seconds <= 86_400)) return failed(captureWords.badSeconds);
  if (sensorName !== undefined && values.out === undefined && values.report === undefined)
    return failed(captureWords.outMissing);
  return ok({
    seconds,
    sensorName,
    outPath: values.out,
    reportPath: values.report,
    profilePath: values.profile,
    adapter: values.adapter ?? defaultBluetoothSettings.adapters[0]!,
    library:
      values.library !== undefined && isRadioName(values.library)
        ? radioLibraries[values.library]
        : defaultBluetoothSettings.library,
  });
}

async function readProfiles(path: string | undefined): Promise<Result<readonly ProfileLink[]>> {
  if (path === undefined) return ok([]);
  const text = await readFile(path, 'utf8').catch((error: Error) => error);
  if (text instanceof Error) return failed(`${path}: ${text.message}`);
  const profile = parseProfile(text);
  return profile.ok
    ? ok([profileLinkOf(profile.value)])
    : failed(profile.reason.map((problem) => sayInEnglish(profileProblemSaid(path, problem))).join('\n'));
}

function readArguments(argv: readonly string[]) {
  const { values, positionals } = parseArgs({
    args: [...argv],
    allowPositionals: true,
    options: {
      seconds: { type: 'string' },
      out: { type: 'string' },
      report: { type: 'string' },
      profile: { type: 'string' },
      adapter: { type: 'string' },
      library: { type: 'string' },
    },
  });
  if (positionals.length > 1) throw new Error(captureWords.oneSensor);
  if (values.library !== undefined && !isRadioName(values.library)) {
    throw new Error(captureWords.badLibrary);
  }
  return { values, sensorName: positionals[0] };
}

/** Null when it is written, else why not. Never over a file that is there. */
async function writeReport(path: string, text: string): Promise<string | null> {
  return await writeFile(path, text, { flag: 'wx', mode: 0o600 }).then(
    () => null,
    (error: Error) => `${path}: ${error.message}`,
  );
}

function surroundingsOf({ adapter, library }: Wish): ReportSurroundings {
  const transport = /^(tcp|unix):/.exec(adapter)?.[1] as 'tcp' | 'unix' | undefined;
  return {
    program: hubVersion,
    node: process.versions.node,
    platform: process.platform,
    architecture: process.arch,
    // Kernels that a person built carry names of theirs behind the numbers.
    system: /^\d+\.\d+/.exec(release())?.[0] ?? '',
    library,
    transport: transport ?? (/^(default|hci\d+)$/.test(adapter) ? 'kernel' : 'serial'),
  };
}

function tableLines(characteristics: readonly DiscoveredCharacteristic[]): readonly string[] {
  const lines: string[] = [];
  let service = '';
  for (const found of characteristics) {
    if (found.service !== service) lines.push(`service ${found.service}`);
    service = found.service;
    lines.push(`  characteristic ${found.characteristic}  ${found.properties.join(', ')}`);
  }
  return lines;
}

const fits = (sensor: SensorStatus, name: string): boolean =>
  sensor.sensorId === name || sensor.name.toLowerCase().startsWith(name.toLowerCase());

const lineOf = (sensor: SensorStatus): string =>
  [
    sensor.sensorId,
    sensor.name,
    sensor.rssiDbm === null ? '' : `${sensor.rssiDbm} dBm`,
    sensor.kinds.join(' and '),
  ]
    .filter(Boolean)
    .join('  ');
