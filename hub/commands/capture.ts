// slackwater capture: lists the sensors in the air, or writes one sensor's raw bytes to a file, so that a profile can
// be written for it.

import { createWriteStream } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { finished } from 'node:stream/promises';
import { parseArgs } from 'node:util';
import type { Clock } from '../base/ports/clock.ts';
import type { SensorListener, SensorStatus } from '../base/ports/sensor-source.ts';
import { systemClock } from '../base/system-clock.ts';
import { captureHeader, captureLine } from '../sensors/bluetooth/capture-file.ts';
import type { ProfileLink } from '../sensors/bluetooth/link-state.ts';
import { defaultBluetoothSettings, openBluetooth } from '../sensors/bluetooth/open-bluetooth.ts';
import { parseProfile, profileLinkOf, profileProblemText } from '../sensors/bluetooth/profile-file.ts';
import type { DiscoveredCharacteristic } from '../sensors/bluetooth/radio.ts';
import { radioLibraries } from '../sensors/bluetooth/radio-messages.ts';

interface Io {
  readonly stdout: { write(text: string): unknown };
  readonly stderr: { write(text: string): unknown };
  /** Ends the capture; Ctrl-C where it is left out. */
  readonly signal?: AbortSignal;
}

const usage = `Usage: slackwater capture [--seconds N]                       list what is in the air
       slackwater capture SENSOR --out FILE [--seconds N]    write a sensor's bytes
  SENSOR     id, or the beginning of a name, as listed
  --profile  a sensor profile whose start command is to be sent
  --adapter  default, hci1, serial:PATH@BAUD, tcp:HOST:PORT or unix:PATH
  --library  noble or stoprocent
`;

/** What tests put in place of the machine. */
export interface CaptureSurroundings {
  readonly clock: Clock;
  readonly radioEntry?: string;
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
  let parsed: ReturnType<typeof readArguments>;
  try {
    parsed = readArguments(argv);
  } catch (error) {
    io.stderr.write(
      `slackwater capture: ${error instanceof Error ? error.message : String(error)}\n${usage}`,
    );
    return 2;
  }
  const { values, sensorName } = parsed;
  const seconds = Number(values.seconds ?? (sensorName === undefined ? 10 : 60));
  if (!(seconds > 0 && seconds <= 86_400)) return complain('--seconds needs a number from 1 to 86400');
  if (sensorName !== undefined && values.out === undefined) return complain('--out FILE is missing');
  const library = values.library === 'stoprocent' ? radioLibraries[1] : radioLibraries[0];

  const profiles: ProfileLink[] = [];
  if (values.profile !== undefined) {
    const text = await readFile(values.profile, 'utf8').catch((error: Error) => error);
    if (text instanceof Error) return complain(`${values.profile}: ${text.message}`);
    const profile = parseProfile(text);
    if (!profile.ok) {
      return complain(
        profile.reason.map((problem) => profileProblemText(values.profile!, problem)).join('\n'),
      );
    }
    profiles.push(profileLinkOf(profile.value));
  }

  const opened = openBluetooth({
    settings: { adapters: [values.adapter ?? defaultBluetoothSettings.adapters[0]!], library },
    clock: surroundings.clock,
    log: () => {},
    remembered: [],
    profiles,
    takeEverything: true,
    ...(surroundings.radioEntry === undefined ? {} : { radioEntry: surroundings.radioEntry }),
  });
  if (!opened.ok) return complain(opened.reason);
  const source = opened.value;

  const found = new Map<string, SensorStatus>();
  /** On the screen and, as comments, in the file: what may be subscribed, and what a start command may be written to. */
  const tellTable = (characteristics: readonly DiscoveredCharacteristic[]): void => {
    if (isTableTold || characteristics.length === 0) return;
    isTableTold = true;
    const lines = tableLines(characteristics);
    io.stdout.write(lines.map((line) => `${line}\n`).join(''));
    file?.write(lines.map((line) => `# ${line}\n`).join(''));
  };
  let isTableTold = false;
  let wanted: string | null = null;
  let packets = 0;
  let startedAtMs = 0;
  let file: ReturnType<typeof createWriteStream> | null = null;
  const listener: SensorListener = {
    packet({ characteristic, bytes, receivedAtMs }) {
      if (file === null) return;
      if (packets === 0) startedAtMs = receivedAtMs;
      packets += 1;
      file.write(captureLine({ atMs: Math.max(0, receivedAtMs - startedAtMs), characteristic, bytes }));
    },
    sensorChanged(sensor) {
      const before = found.get(sensor.sensorId);
      found.set(sensor.sensorId, sensor);
      if (sensorName === undefined) {
        if (before?.name !== sensor.name) io.stdout.write(`${lineOf(sensor)}\n`);
      } else if (wanted === null && fits(sensor, sensorName)) {
        wanted = sensor.sensorId;
        file = createWriteStream(values.out!, { flags: 'wx', mode: 0o600 });
        file.on('error', (error) => {
          failure = `${values.out}: ${error.message}`;
          endEarly();
        });
        file.write(captureHeader(sensor.name));
        io.stdout.write(`Connecting to ${lineOf(sensor)}\n`);
        source.setWantedSensors(new Set([sensor.sensorId]));
      } else if (sensor.sensorId === wanted && before?.link !== sensor.link) {
        io.stdout.write(`${sensor.link}${sensor.detail === null ? '' : `: ${sensor.detail}`}\n`);
        if (sensor.link === 'connected') tellTable(source.characteristicsOf(sensor.sensorId));
      }
    },
    sourceNotice(notice) {
      if (notice !== null) io.stderr.write(`${notice}\n`);
    },
  };
  let failure: string | null = null;
  let endEarly = (): void => {};
  const ended = new Promise<void>((resolve) => {
    endEarly = resolve;
    surroundings.clock.after(seconds * 1_000, resolve);
    io.signal?.addEventListener('abort', () => resolve());
    if (io.signal === undefined) process.once('SIGINT', () => resolve());
  });
  await source.start(listener);
  await ended;
  await source.stop();
  const written = file as ReturnType<typeof createWriteStream> | null;
  if (written !== null) {
    written.end();
    await finished(written).catch(() => {});
  }
  if (failure !== null) return complain(failure);
  if (sensorName === undefined) {
    if (found.size === 0) return complain('no sensor was heard');
    return 0;
  }
  if (wanted === null)
    return complain(`no sensor called "${sensorName}" was heard; without a name, capture lists them`);
  io.stdout.write(`${packets} packets written to ${values.out}\n`);
  return packets > 0 ? 0 : 2;
}

function readArguments(argv: readonly string[]) {
  const { values, positionals } = parseArgs({
    args: [...argv],
    allowPositionals: true,
    options: {
      seconds: { type: 'string' },
      out: { type: 'string' },
      profile: { type: 'string' },
      adapter: { type: 'string' },
      library: { type: 'string' },
    },
  });
  if (positionals.length > 1) throw new Error('only one sensor at a time');
  if (values.library !== undefined && !['noble', 'stoprocent'].includes(values.library)) {
    throw new Error('--library is noble or stoprocent');
  }
  return { values, sensorName: positionals[0] };
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
