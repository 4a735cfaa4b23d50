// A bus of its own with a stand-in for bluetoothd on it (`fake_bluetoothd.py`), told what sensors there are; keeps what it
// says.

import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { until } from '../rig/virtual-air.ts';

type FakeEvent = { readonly ev: string; readonly t: number; readonly id?: string } & Record<string, unknown>;

interface FakeCharacteristic {
  readonly uuid: string;
  readonly properties: readonly string[];
  readonly value?: string;
  readonly stream?: { readonly everyMs: number };
  /** Wants the key of a pairing; `waitsForPair`: only one that the hub asks for. */
  readonly locked?: boolean;
  readonly waitsForPair?: boolean;
  readonly dead?: boolean;
  readonly hangRead?: boolean;
  readonly refuseRead?: readonly [name: string, text: string];
}

export interface FakeSensor {
  readonly id: string;
  readonly address: string;
  readonly name: string;
  readonly advertises?: readonly string[];
  readonly services: readonly (
    | { readonly uuid: string; readonly characteristics: readonly FakeCharacteristic[] }
    | { readonly uuid: string; readonly asBattery: number }
  )[];
  readonly pairing?: 'justWorks' | 'typeCode' | 'showCode' | 'compareCode';
  readonly code?: number;
  readonly identity?: string;
  readonly [more: string]: unknown;
}

/** Who may speak to org.bluez, in the words of dbus-daemon's configuration. */
const busConfiguration = (socket: string, policy: string): string => `<!DOCTYPE busconfig PUBLIC
 "-//freedesktop//DTD D-BUS Bus Configuration 1.0//EN" "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig><type>system</type><listen>unix:path=${socket}</listen><auth>EXTERNAL</auth>
<policy context="default"><allow send_destination="*" eavesdrop="true"/><allow eavesdrop="true"/><allow own="*"/>
${policy}</policy></busconfig>`;

export class FakeBluez {
  readonly events: FakeEvent[] = [];
  readonly #directory: string;
  readonly #daemon: ChildProcess;
  #fake: ChildProcess | null = null;
  #orders = 0;

  private constructor(directory: string, daemon: ChildProcess) {
    this.#directory = directory;
    this.#daemon = daemon;
  }

  /** A bus, and this process's children find it as the system's. Throws with what is to be installed. */
  static async openBus(policy = ''): Promise<FakeBluez> {
    try {
      execFileSync('dbus-daemon', ['--version'], { stdio: 'ignore' });
      execFileSync('/usr/bin/python3', ['-c', 'import dbus, gi'], { stdio: 'ignore' });
    } catch {
      throw new Error('this test needs the Debian packages dbus, python3-dbus and python3-gi');
    }
    const directory = mkdtempSync(join(tmpdir(), 'bus-'));
    const socket = join(directory, 'bus');
    writeFileSync(join(directory, 'bus.conf'), busConfiguration(socket, policy));
    const daemon = spawn(
      'dbus-daemon',
      [`--config-file=${join(directory, 'bus.conf')}`, '--nofork', '--nosyslog', '--print-address'],
      { stdio: ['ignore', 'pipe', 'inherit'] },
    );
    let isUp = false;
    daemon.stdout!.once('data', () => {
      isUp = true;
    });
    await until('the bus', () => isUp);
    process.env['DBUS_SYSTEM_BUS_ADDRESS'] = `unix:path=${socket}`;
    return new FakeBluez(directory, daemon);
  }

  static async open(...sensors: readonly FakeSensor[]): Promise<FakeBluez> {
    const fake = await FakeBluez.openBus();
    await fake.startDaemon();
    await fake.order({ do: 'addAdapter' });
    for (const sensor of sensors) await fake.order({ do: 'add', sensor });
    return fake;
  }

  async startDaemon(): Promise<void> {
    const program = fileURLToPath(new URL('./fake_bluetoothd.py', import.meta.url));
    const child = spawn('/usr/bin/python3', ['-u', program], { stdio: ['pipe', 'pipe', 'inherit'] });
    this.#fake = child;
    createInterface({ input: child.stdout! }).on('line', (line) =>
      this.events.push(JSON.parse(line) as FakeEvent),
    );
    await until(
      'the stand-in',
      () => child.exitCode !== null || this.events.some(({ ev }) => ev === 'ready'),
    );
    if (child.exitCode !== null) throw new Error(`the stand-in for bluetoothd ended with ${child.exitCode}`);
  }

  async order(order: { readonly do: string } & Record<string, unknown>): Promise<void> {
    this.#orders += 1;
    const seq = this.#orders;
    this.#fake!.stdin!.write(`${JSON.stringify({ ...order, seq })}\n`);
    await until(`the stand-in to ${order.do}`, () => this.events.some((event) => event['seq'] === seq));
  }

  of(ev: string, id?: string): readonly FakeEvent[] {
    return this.events.filter((event) => event.ev === ev && (id === undefined || event.id === id));
  }

  /** The bus itself goes, as at a restart of dbus-daemon. */
  killBus(): void {
    this.#daemon.kill('SIGKILL');
  }

  close(): void {
    this.#fake?.kill('SIGKILL');
    this.#daemon.kill('SIGKILL');
    rmSync(this.#directory, { recursive: true, force: true });
  }
}
