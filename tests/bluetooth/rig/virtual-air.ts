// The air between hub and sensors: the controller emulator and the virtual sensors' processes, with an event log of
// each that a test can wait on. Everything ends with `close`.

import { type ChildProcess, fork, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { buildRig } from './build-rig.ts';
import type { FromSensor, SensorPlan, ToSensor } from './sensor-messages.ts';

/** Waits are for loaded machines: nothing is asserted by them, they only end a test that hangs. */
const patienceMs = 60_000;

/** Resolves when `check` holds, looking again at each `poke` and every 20 ms; rejects with `what` when it never does. */
export async function until(
  what: string | (() => string),
  check: () => boolean,
  limitMs = patienceMs,
): Promise<void> {
  const endMs = performance.now() + limitMs;
  while (!check()) {
    if (performance.now() > endMs)
      throw new Error(`waited ${limitMs} ms in vain for: ${typeof what === 'string' ? what : what()}`);
    await wait(20);
  }
}

export interface VirtualSensor {
  readonly plan: SensorPlan;
  /** As the hub will know it. */
  readonly sensorId: string;
  readonly log: readonly FromSensor[];
  readonly process: ChildProcess;
  send(message: ToSensor): void;
  /** Numbers of one characteristic's notifications that left the sensor, in order. */
  sentNumbers(characteristic: string): readonly number[];
  kill(): void;
}

export class VirtualAir {
  readonly controllerSocket: string;
  readonly #directory: string;
  readonly #children = new Set<ChildProcess>();

  #emulator: ChildProcess | undefined;

  private constructor(directory: string) {
    this.#directory = directory;
    this.controllerSocket = join(directory, 'bt-server-le');
  }

  static async open(): Promise<VirtualAir> {
    const air = new VirtualAir(mkdtempSync(join(tmpdir(), 'air-')));
    await air.#startEmulator();
    return air;
  }

  async #startEmulator(): Promise<void> {
    const { shim } = await buildRig();
    for (const name of readdirSync(this.#directory).filter((file) => file.startsWith('bt-server')))
      rmSync(join(this.#directory, name));
    const emulator = spawn('btvirt', ['-s'], {
      stdio: 'ignore',
      env: { ...process.env, BTVIRT_DIR: this.#directory, LD_PRELOAD: shim },
    });
    this.#emulator = emulator;
    this.#children.add(emulator);
    // The last of the emulator's sockets to be opened.
    await until('the controller emulator', () => existsSync(join(this.#directory, 'bt-server-mon')));
  }

  /**
   * Debian's emulator now and then dies when several controllers leave at once, as at a test's end. The test that comes
   * next gets a new one; a test that is under way when it dies fails.
   */
  async #ensureEmulator(): Promise<void> {
    const died = this.#emulator?.exitCode ?? this.#emulator?.signalCode;
    if (died === null || died === undefined) return;
    console.log(`the controller emulator had died (${died}) and was started again`);
    await this.#startEmulator();
  }

  path(name: string): string {
    return join(this.#directory, name);
  }

  async sensor(
    name: string,
    kinds: SensorPlan['kinds'],
    rest: Partial<SensorPlan> = {},
  ): Promise<VirtualSensor> {
    const { sensorEntry } = await buildRig();
    await this.#ensureEmulator();
    const plan: SensorPlan = {
      name,
      kinds,
      everyMs: 100,
      batteryPercent: 80,
      controllerSocket: this.controllerSocket,
      ...rest,
    };
    const child = fork(sensorEntry, [JSON.stringify(plan)], {
      serialization: 'advanced',
      stdio: ['ignore', 'inherit', 'inherit', 'ipc'],
    });
    this.#children.add(child);
    const log: FromSensor[] = [];
    child.on('message', (message: FromSensor) => log.push(message));
    await until(`${name} to advertise`, () => log.some((message) => message.type === 'advertising'));
    const first = log.find((message) => message.type === 'advertising')!;
    return {
      plan,
      sensorId: `bt:${first.type === 'advertising' ? first.address.replaceAll(':', '') : ''}`,
      log,
      process: child,
      send: (message) => void child.send(message),
      sentNumbers: (characteristic) =>
        log.flatMap((message) =>
          message.type === 'sent' && message.characteristic === characteristic ? [message.number] : [],
        ),
      kill: () => void child.kill('SIGKILL'),
    };
  }

  /** Runs a program of the rig that ends with the air. */
  adopt(child: ChildProcess): void {
    this.#children.add(child);
  }

  close(): void {
    for (const child of this.#children) child.kill('SIGKILL');
    rmSync(this.#directory, { recursive: true, force: true });
  }
}
