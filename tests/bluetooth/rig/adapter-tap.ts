// A connection to a virtual adapter with a hand on the plug: unplugs it and plugs it in again, and makes it behave as
// hardware where the emulator does not (a connect to a silent sensor waits instead of failing at once).

import net from 'node:net';
import { initialH4State, takeH4 } from '../../../hub/sensors/bluetooth/h4-framing.ts';

const createConnection = 0x200d;
const createConnectionCancel = 0x200e;
const opcodeOf = (command: Buffer): number => command.readUInt16LE(1);

export class AdapterTap {
  /** LE Create Connection commands seen, and cancels. */
  connects = 0;
  cancels = 0;
  /** Commands for which this answers true vanish, as with an adapter that hangs. */
  swallow: (command: Buffer) => boolean = () => false;
  readonly #controller: string;
  readonly #server: net.Server;
  readonly #open = new Set<net.Socket>();
  readonly #ends = new Set<() => void>();
  #plugged = true;

  private constructor(controller: string) {
    this.#controller = controller;
    this.#server = net.createServer((hub) => this.#join(hub));
  }

  /** Listens on a unix socket path, or on a free loopback port when `listenOn` is 0. */
  static async open(controller: string, listenOn: string | 0): Promise<AdapterTap> {
    const tap = new AdapterTap(controller);
    await new Promise<void>((resolve) => {
      if (listenOn === 0) tap.#server.listen(0, '127.0.0.1', resolve);
      else tap.#server.listen(listenOn, resolve);
    });
    return tap;
  }

  get port(): number {
    return (this.#server.address() as net.AddressInfo).port;
  }

  /**
   * The hub's side ends at once; the sensors' side hears of each link's end from the emulator, which stands for the
   * supervision timeout that would tell a real sensor.
   */
  unplug(): void {
    this.#plugged = false;
    for (const end of [...this.#ends]) end();
  }

  plugIn(): void {
    this.#plugged = true;
  }

  close(): void {
    this.unplug();
    for (const socket of this.#open) socket.destroy();
    this.#server.close();
  }

  #join(hub: net.Socket): void {
    hub.on('error', () => {});
    if (!this.#plugged) {
      hub.destroy();
      return;
    }
    const controller = net.connect(this.#controller);
    controller.on('error', () => {});
    const handles = new Set<number>();
    const end = (): void => {
      if (!this.#ends.delete(end)) return;
      hub.destroy();
      for (const handle of handles) {
        controller.write(Buffer.from([0x01, 0x06, 0x04, 0x03, handle & 0xff, handle >> 8, 0x15]));
      }
      endController();
    };
    // Not before each link's end is confirmed: what a controller that leaves has asked for last, the emulator may not read, and
    // a sensor that is never told of its link's end does not advertise again.
    const endController = (): void => {
      if (!this.#ends.has(end) && handles.size === 0) controller.end();
    };
    this.#ends.add(end);
    for (const socket of [hub, controller]) {
      this.#open.add(socket);
      socket.on('close', () => {
        this.#open.delete(socket);
        end();
      });
    }
    let pending: { command: Buffer; retries: number; timer?: NodeJS.Timeout } | null = null;
    hub.on('data', (bytes: Buffer) => {
      for (const command of splitCommands(bytes)) {
        if (command[0] === 0x01) {
          if (opcodeOf(command) === createConnection) {
            this.connects += 1;
            pending = { command, retries: 0 };
          }
          if (opcodeOf(command) === createConnectionCancel) this.cancels += 1;
          if (this.swallow(command)) continue;
          if (opcodeOf(command) === createConnectionCancel && pending !== null) {
            clearTimeout(pending.timer);
            pending = null;
            hub.write(Buffer.from('040e04010e2000', 'hex'));
            hub.write(Buffer.concat([Buffer.from('043e130102', 'hex'), Buffer.alloc(17)]));
            continue;
          }
        }
        controller.write(command);
      }
    });
    let framing = initialH4State;
    controller.on('data', (bytes: Buffer) => {
      const taken = takeH4(framing, bytes);
      framing = taken.state;
      for (const packet of taken.packets) {
        if (pending !== null && packet[0] === 0x04) {
          const isStatus = packet[1] === 0x0f && (packet[5]! | (packet[6]! << 8)) === createConnection;
          const isComplete = packet[1] === 0x3e && packet[3] === 0x01;
          if (isStatus && pending.retries > 0) continue;
          if (isComplete && packet[4] === 0x3e) {
            // A real controller goes on listening for the sensor until it is told to stop.
            const attempt = pending;
            attempt.retries += 1;
            attempt.timer = setTimeout(() => {
              if (pending === attempt) controller.write(attempt.command);
            }, 20);
            continue;
          }
          if (isComplete) pending = null;
        }
        if (packet[0] === 0x04 && packet[1] === 0x3e && packet[3] === 0x01 && packet[4] === 0) {
          handles.add(packet[5]! | (packet[6]! << 8));
        }
        if (packet[0] === 0x04 && packet[1] === 0x05) {
          handles.delete(packet[4]! | (packet[5]! << 8));
          endController();
        }
        if (!hub.destroyed) hub.write(packet);
      }
    });
  }
}

/** What the hub writes comes whole, several packets at a time at most. */
function* splitCommands(bytes: Buffer): Generator<Buffer> {
  let at = 0;
  while (at < bytes.length) {
    const length = bytes[at] === 0x01 ? 4 + bytes[at + 3]! : 5 + bytes.readUInt16LE(at + 3);
    yield bytes.subarray(at, at + length);
    at += length;
  }
}
