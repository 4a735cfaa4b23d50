// Keeps the radio process responsive on Linux, and its links apart. The library's native socket makes a link by a
// blocking system call inside `write` and keeps its links in a table whose order of addresses is wrong, so that one
// sensor's link is mistaken for another's. Here each link is made and held by a helper process of its own.

import { type ChildProcess, fork } from 'node:child_process';
import type { EventEmitter } from 'node:events';
import { fileURLToPath } from 'node:url';

/** LE Create Connection and LE Extended Create Connection (Core 5.3 Vol 4 Part E s7.8.12, s7.8.66), and the cancel. */
const createConnection = 0x200d;
const extendedCreateConnection = 0x2043;
const createConnectionCancel = 0x200e;
/** LE Set Scan Enable and LE Set Extended Scan Enable (s7.8.11, s7.8.65). */
const setScanEnable = [0x200c, 0x2042];

/**
 * How long after a helper's call has returned, or was given up, the kernel's word on the link may take. It is there before the call returns,
 * as a rule. Waited in pieces, one or more packets being read between two: where this process stood still the word lies
 * unread behind others, and a link that was made would be ended. Ours; 0.56 s were seen on a machine with ten times too much to do.
 */
const returnGraceMs = 1_000;
const cancelGraceMs = 300;
const graceStepMs = 10;
/**
 * How often an attempt's listening is begun anew unless the sensor goes on to be heard: some controllers tell each sensor once a scan,
 * perhaps before the kernel looks for it. Ours: within the shortest attempt (link-policy.ts).
 */
const listenAgainMs = 1_000;

/** LE Connection Complete with status 0x02, "unknown connection": what a controller answers to a cancel. */
const cancelledEvent = Buffer.concat([Buffer.from('043e130102', 'hex'), Buffer.alloc(17)]);
const cancelCommand = Buffer.from([0x01, 0x0e, 0x20, 0x00]);

const opcodeOf = (packet: Buffer): number | null =>
  packet[0] === 0x01 && packet.length >= 4 ? packet.readUInt16LE(1) : null;
/** The peer's address in the commands and in the events of both kinds, in the order of the air. */
const addressOf = (packet: Buffer): string =>
  packet[0] === 0x04
    ? packet.toString('hex', 9, 15)
    : opcodeOf(packet) === createConnection
      ? packet.toString('hex', 10, 16)
      : packet.toString('hex', 7, 13);
const isDisconnectionComplete = (packet: Buffer): boolean =>
  packet[0] === 0x04 && packet[1] === 0x05 && packet[3] === 0x00;
/** The kernel has heard the sensor and asked the controller for the link: Command Status of the command (s7.7.15). */
const isConnectionBegun = (packet: Buffer): boolean =>
  packet[0] === 0x04 &&
  packet[1] === 0x0f &&
  packet.length >= 7 &&
  [createConnection, extendedCreateConnection].includes(packet.readUInt16LE(5));
/** An advertising report, of the old kind or the new, that names this sensor (s7.7.65.2, s7.7.65.13). */
const isHeard = (packet: Buffer, address: string): boolean =>
  packet[0] === 0x04 &&
  packet[1] === 0x3e &&
  (packet[3] === 0x02 || packet[3] === 0x0d) &&
  packet.toString('hex').includes(address);
const isConnectionComplete = (packet: Buffer): boolean =>
  packet[0] === 0x04 && packet[1] === 0x3e && (packet[3] === 0x01 || packet[3] === 0x0a);

export type ToConnector =
  | { readonly type: 'open'; readonly module: string; readonly deviceId: number }
  | { readonly type: 'write'; readonly packet: Uint8Array };
/** A `write` has returned: the link was made, or will not be. */
export interface FromConnector {
  readonly type: 'returned';
}

/** The helper process as the socket sees it. */
export interface Connector {
  send(message: ToConnector): void;
  onReturned(callback: () => void): void;
  /** Called once when the process is gone, and with it the link that it held. */
  onEnded(callback: () => void): void;
  kill(): void;
}

interface NativeSocket extends EventEmitter {
  bindRaw(deviceId?: number, parameters?: unknown): number;
  setFilter(filter: Buffer): void;
  start(): void;
  stop(): void;
  write(packet: Buffer): void;
}
export type NativeSocketClass = new () => NativeSocket;

/** One helper: it makes one link and holds it. The kernel ends a link when its holder goes. */
interface Helper {
  readonly connector: Connector;
  state: 'spare' | 'connecting' | 'returned' | 'holding' | 'ending' | 'gone';
  /** Address of the sensor it was sent to, as on the air; null for a spare. */
  address: string | null;
  handle: number | null;
}

/**
 * The native class with its blocking command taken out.
 * @param openConnector starts a helper; one is kept ready, so that an attempt need not wait for a process to start.
 */
export function makeKernelSocket(
  native: NativeSocketClass,
  module: string,
  openConnector: () => Connector = forkConnector,
): NativeSocketClass & { loadDriver(): unknown } {
  return class KernelSocket extends native {
    static loadDriver(): unknown {
      return KernelSocket;
    }

    readonly #helpers = new Set<Helper>();
    #deviceId: number | null = null;
    /** A command that waits for the helper of the attempt before to be gone. */
    #queued: Uint8Array | null = null;
    #timer: NodeJS.Timeout | undefined;
    #stopped = false;
    /** The command that last began scanning. */
    #scanCommand: Buffer | null = null;
    #isScanning = false;
    /** Scanning was begun here, for the attempt alone. */
    #isListening = false;
    #listenTimer: NodeJS.Timeout | undefined;
    /** The sensor was heard in the second half of the listening: it is told more than once, to the kernel too. */
    #isHeardLate = false;
    /** The kernel waits for the controller's word on a link. A command of ours that is answered then it takes for that word. */
    #isLinking = false;
    #heldScan: Buffer | null = null;

    override bindRaw(deviceId?: number, parameters?: unknown): number {
      this.#deviceId = super.bindRaw(deviceId, parameters) ?? deviceId ?? 0;
      this.on('data', (packet: Buffer) => this.#follow(packet));
      this.#openSpare();
      return this.#deviceId;
    }

    /** Keeps account of which helper holds which link. */
    #follow(packet: Buffer): void {
      this.#followAttempt(packet);
      if (isConnectionComplete(packet)) {
        const helper = this.#attempting();
        if (helper === undefined) return;
        // Another program's link, the desktop's Bluetooth perhaps, is none of ours.
        if (packet[4] === 0 && addressOf(packet) !== helper.address) return;
        clearTimeout(this.#timer);
        if (packet[4] === 0 && helper.state !== 'ending') {
          helper.state = 'holding';
          helper.handle = packet.readUInt16LE(5);
          this.#listen(false);
        } else if (packet[4] !== 0) {
          this.#end(helper);
        }
      } else if (isDisconnectionComplete(packet)) {
        const handle = packet.readUInt16LE(4);
        for (const helper of this.#helpers) if (helper.handle === handle) this.#end(helper);
      }
    }

    #followAttempt(packet: Buffer): void {
      const address = this.#attempting()?.address;
      if (isConnectionBegun(packet)) {
        clearInterval(this.#listenTimer);
        this.#isLinking = packet[3] === 0 && address !== undefined;
      } else if (address && isHeard(packet, address)) {
        this.#isHeardLate = true;
      }
    }

    /** What was held back goes out. */
    #linkingOver(): void {
      this.#isLinking = false;
      const held = this.#heldScan;
      this.#heldScan = null;
      if (held !== null && !this.#stopped) this.write(held);
    }

    #attempting(): Helper | undefined {
      for (const helper of this.#helpers) {
        if (helper.state === 'connecting' || helper.state === 'returned' || helper.state === 'ending') {
          if (helper.handle === null) return helper;
        }
      }
      return undefined;
    }

    #openSpare(): Helper {
      const connector = openConnector();
      const helper: Helper = { connector, state: 'spare', address: null, handle: null };
      this.#helpers.add(helper);
      connector.send({ type: 'open', module, deviceId: this.#deviceId ?? 0 });
      connector.onReturned(() => this.#onReturned(helper));
      connector.onEnded(() => this.#onEnded(helper));
      return helper;
    }

    #onReturned(helper: Helper): void {
      if (helper.state !== 'connecting') return;
      helper.state = 'returned';
      this.#afterGrace(returnGraceMs, () => {
        // No link came of it. The native code then sends the bare command, which nobody holds: it is taken back.
        if (helper.state !== 'returned') return;
        this.#end(helper);
        super.write(cancelCommand);
        this.emit('data', cancelledEvent);
      });
    }

    #afterGrace(graceMs: number, then: () => void): void {
      clearTimeout(this.#timer);
      let leftMs = graceMs;
      const next = (): void => {
        leftMs -= graceStepMs;
        if (leftMs < 0) then();
        else this.#timer = setTimeout(next, graceStepMs);
      };
      next();
    }

    #onEnded(helper: Helper): void {
      const wasNeeded = helper.state === 'connecting' || helper.state === 'returned';
      helper.state = 'gone';
      this.#helpers.delete(helper);
      if (this.#stopped) return;
      if (wasNeeded) this.#listen(false);
      // A helper that died by itself: the attempt is over. A link it held is ended by the kernel, which says so.
      if (wasNeeded) this.emit('data', cancelledEvent);
      this.#sendQueued();
    }

    #end(helper: Helper): void {
      if (helper.state === 'ending' || helper.state === 'gone') return;
      if (helper.address !== null && helper.handle === null) this.#listen(false);
      helper.state = 'ending';
      helper.connector.kill();
    }

    /**
     * From Linux 6.12 on the kernel takes scanning by a program for a search of its own, which in its eyes goes on after the program has
     * ended it (`DISCOVERY_FINDING` in hci_event.c), and then does not look for the sensor that it is to link to. It links all the
     * same once it hears the sensor, whoever scans, and ends that scanning itself.
     */
    #listen(on: boolean): void {
      clearInterval(this.#listenTimer);
      if (on && this.#scanCommand !== null) {
        let halves = 0;
        this.#listenTimer = setInterval(() => {
          halves += 1;
          if (halves % 2 === 1) this.#isHeardLate = false;
          else if (!this.#isHeardLate) this.#listenAgain();
        }, listenAgainMs / 2);
      }
      if (this.#scanCommand !== null && (on ? !this.#isScanning : this.#isListening)) {
        this.#isListening = on;
        this.#writeScan(on);
      }
      if (!on) this.#linkingOver();
    }

    #listenAgain(): void {
      if (!this.#isScanning) this.#isListening = true;
      this.#writeScan(false);
      this.#writeScan(true);
    }

    #writeScan(on: boolean): void {
      const command = Buffer.from(this.#scanCommand!);
      command[4] = on ? 1 : 0;
      if (!this.#stopped) super.write(command);
    }

    #followScan(packet: Buffer): void {
      this.#isListening = false;
      this.#isScanning = packet[4] === 1;
      if (this.#isScanning) this.#scanCommand = Buffer.from(packet);
    }

    #sendQueued(): void {
      if (this.#queued === null || this.#attempting() !== undefined) return;
      const packet = this.#queued;
      this.#queued = null;
      const helper = [...this.#helpers].find(({ state }) => state === 'spare') ?? this.#openSpare();
      helper.state = 'connecting';
      helper.address = addressOf(Buffer.from(packet));
      helper.connector.send({ type: 'write', packet });
      this.#listen(true);
      this.#openSpare();
    }

    override write(packet: Buffer): void {
      const opcode = opcodeOf(packet);
      if (this.#deviceId === null) {
        super.write(packet);
      } else if (opcode === createConnection || opcode === extendedCreateConnection) {
        this.#queued = Uint8Array.from(packet);
        this.#sendQueued();
      } else if (opcode === createConnectionCancel && this.#queued !== null) {
        this.#queued = null;
        this.#sayCancelled(null);
      } else if (opcode === createConnectionCancel) {
        const helper = this.#attempting();
        super.write(packet);
        if (helper === undefined || helper.state === 'ending') return;
        // The kernel gives the attempt up with its holder. Where it was still waiting for the sensor it says nothing.
        this.#end(helper);
        this.#sayCancelled(helper);
      } else {
        const isScan = opcode !== null && setScanEnable.includes(opcode);
        if (isScan && this.#isLinking) {
          this.#heldScan = Buffer.from(packet);
          return;
        }
        if (isScan) this.#followScan(packet);
        super.write(packet);
      }
    }

    #sayCancelled(helper: Helper | null): void {
      this.#afterGrace(cancelGraceMs, () => {
        if (helper === null || helper.handle === null) this.emit('data', cancelledEvent);
      });
    }

    override stop(): void {
      this.#stopped = true;
      clearTimeout(this.#timer);
      clearInterval(this.#listenTimer);
      for (const helper of this.#helpers) this.#end(helper);
      super.stop();
    }
  };
}

/** Starts the helper from this process's own entry, which knows the role by its first argument. */
function forkConnector(): Connector {
  const entry = process.argv[1] ?? fileURLToPath(import.meta.url);
  const child: ChildProcess = fork(entry, [connectorRole], {
    serialization: 'advanced',
    execArgv: process.execArgv,
    // The native code sets the kernel's connection parameters through a shell, which complains where it may not.
    stdio: ['ignore', 'ignore', 'ignore', 'ipc'],
  });
  return {
    send: (message) => void (child.connected && child.send(message, undefined, undefined, () => {})),
    onReturned: (callback) =>
      void child.on('message', (message: FromConnector) => message.type === 'returned' && callback()),
    onEnded: (callback) => {
      let told = false;
      const tell = (): void => {
        if (!told) callback();
        told = true;
      };
      child.on('exit', tell);
      child.on('error', tell);
    },
    kill: () => void child.kill('SIGKILL'),
  };
}

/** First argument of the radio process's entry when it is to be the helper. */
export const connectorRole = 'connector';

/**
 * The helper: one native socket, one link. It listens to nothing (`start` is not called), so that its table of links
 * never has a second entry. Ends with the pipe.
 */
export function runConnector(load: (module: string) => NativeSocketClass): void {
  let socket: NativeSocket | null = null;
  process.on('disconnect', () => process.exit(0));
  for (const signal of ['SIGINT', 'SIGTERM'] as const) process.on(signal, () => {});
  process.on('message', (message: ToConnector) => {
    switch (message.type) {
      case 'open': {
        socket = new (load(message.module))();
        // Without listeners an error would end the process; the radio process hears of it on its own socket.
        socket.on('error', () => {});
        socket.bindRaw(message.deviceId);
        return;
      }
      case 'write':
        socket?.write(Buffer.from(message.packet));
        process.send?.({ type: 'returned' } satisfies FromConnector);
        return;
    }
  });
}
