// Starts the independent air (`virtual_air.py`) for a test, tells it what sensors there are, and keeps what it says.

import { type ChildProcess, spawn } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { until } from '../rig/virtual-air.ts';

export type AirEvent = { readonly ev: string; readonly t: number; readonly id?: string } & Record<
  string,
  unknown
>;

export interface AirCharacteristic {
  readonly uuid: string;
  readonly properties: readonly string[];
  /** Hexadecimal, for reads. */
  readonly value?: string;
  readonly stream?: {
    readonly kind: 'heartRate' | 'oximeter' | 'beats' | 'bytes';
    readonly everyMs: number;
    readonly firstAfterMs?: number;
    readonly jitterMs?: number;
    readonly meanMs?: number;
    readonly frames?: readonly string[];
    readonly split?: boolean;
    readonly burst?: number;
    readonly lossShare?: number;
  };
  /** ATT error for reads and subscriptions: 5 authentication, 15 encryption. */
  readonly locked?: number;
  readonly refuseSubscribe?: number;
  readonly hangSubscribe?: boolean;
  readonly hangRead?: boolean;
  /** Takes a subscription and sends nothing. */
  readonly dead?: boolean;
}

export interface AirSensor {
  readonly id: string;
  readonly address: string;
  readonly random?: boolean;
  readonly name: string;
  readonly advertiseEveryMs?: number;
  readonly advertises?: readonly string[];
  readonly services: readonly {
    readonly uuid: string;
    readonly characteristics: readonly AirCharacteristic[];
  }[];
  readonly [more: string]: unknown;
}

/** Hub's name for a sensor of the air. */
export const idOf = (sensor: { readonly address: string }): string =>
  `bt:${sensor.address.replaceAll(':', '')}`;

export class Air {
  readonly events: AirEvent[] = [];
  readonly socketPath: string;
  readonly #directory: string;
  readonly #child: ChildProcess;

  private constructor(directory: string, child: ChildProcess) {
    this.#directory = directory;
    this.socketPath = join(directory, 'controller');
    this.#child = child;
    createInterface({ input: child.stdout! }).on('line', (line) =>
      this.events.push(JSON.parse(line) as AirEvent),
    );
  }

  /** @param settings command line of the air: `--most-links N`, `--seed N` */
  static async open(...settings: readonly string[]): Promise<Air> {
    const directory = mkdtempSync(join(tmpdir(), 'raw-air-'));
    const program = fileURLToPath(new URL('./virtual_air.py', import.meta.url));
    const child = spawn('python3', ['-u', program, '--listen', join(directory, 'controller'), ...settings], {
      stdio: ['pipe', 'pipe', 'inherit'],
    });
    const air = new Air(directory, child);
    await until('the air', () => air.events.some(({ ev }) => ev === 'ready'));
    return air;
  }

  #orders = 0;
  async order(order: { readonly do: string } & Record<string, unknown>): Promise<void> {
    this.#orders += 1;
    const seq = this.#orders;
    this.#child.stdin!.write(`${JSON.stringify({ ...order, seq })}\n`);
    await until(`the air to ${order.do}`, () => this.events.some((event) => event.seq === seq));
  }

  async add(sensor: AirSensor): Promise<void> {
    await this.order({ do: 'add', sensor });
  }

  of(ev: string, id?: string): readonly AirEvent[] {
    return this.events.filter((event) => event.ev === ev && (id === undefined || event.id === id));
  }

  close(): void {
    this.#child.kill('SIGKILL');
    rmSync(this.#directory, { recursive: true, force: true });
  }
}
