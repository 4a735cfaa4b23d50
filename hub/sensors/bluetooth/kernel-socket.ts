// Keeps the radio process responsive on Linux. The library's native socket makes a link by a blocking system call
// inside `write`: a fifth of a second as a rule, forty for a sensor that has gone. Here that one command goes to a helper
// process which blocks in its stead; everything else, and every event, stays with this socket.

import { type ChildProcess, fork } from 'node:child_process';
import type { EventEmitter } from 'node:events';
import { fileURLToPath } from 'node:url';

/** LE Create Connection and LE Extended Create Connection (Core 5.3 Vol 4 Part E s7.8.12, s7.8.66), and the cancel. */
const createConnection = 0x200d;
const extendedCreateConnection = 0x2043;
const createConnectionCancel = 0x200e;

/** After a cancel, a kernel that was still waiting for the sensor to advertise says nothing: give it this long. */
const cancelGraceMs = 300;

/** LE Connection Complete with status 0x02, "unknown connection": what a controller answers to a cancel. */
const cancelledEvent = Buffer.concat([Buffer.from('043e130102', 'hex'), Buffer.alloc(17)]);

const opcodeOf = (packet: Buffer): number | null =>
  packet[0] === 0x01 && packet.length >= 4 ? packet.readUInt16LE(1) : null;
const cancelCommand = Buffer.from([0x01, 0x0e, 0x20, 0x00]);
const isDisconnectionComplete = (packet: Buffer): boolean =>
  packet[0] === 0x04 && packet[1] === 0x05 && packet[3] === 0x00;
const isConnectionComplete = (packet: Buffer): boolean =>
  packet[0] === 0x04 && packet[1] === 0x3e && (packet[3] === 0x01 || packet[3] === 0x0a);

export type ToConnector =
  | { readonly type: 'open'; readonly module: string; readonly deviceId: number }
  | { readonly type: 'filter'; readonly filter: Uint8Array }
  | { readonly type: 'write'; readonly packet: Uint8Array };
/** A `write` has returned: the link was made, or will not be. */
export interface FromConnector {
  readonly type: 'returned';
}

/** The helper process as the socket sees it. */
export interface Connector {
  send(message: ToConnector): void;
  onReturned(callback: () => void): void;
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

/**
 * The native class with its blocking command taken out.
 * @param openConnector starts a helper; called when the socket is bound and after a helper had to be killed.
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

    #helper: Helper | null = null;
    /** Helpers that are stuck in an attempt given up, and hold links that must not be let go. */
    readonly #retired = new Set<Helper>();
    #deviceId: number | null = null;
    #filter: Uint8Array | null = null;
    #cancelled = false;
    /** A command that came while the helper had not returned from the one before. */
    #queued: Uint8Array | null = null;
    #timer: NodeJS.Timeout | undefined;

    override bindRaw(deviceId?: number, parameters?: unknown): number {
      this.#deviceId = super.bindRaw(deviceId, parameters) ?? deviceId ?? 0;
      this.on('data', (packet: Buffer) => this.#follow(packet));
      this.#open();
      return this.#deviceId;
    }

    /** Keeps account of which helper holds which link: the kernel ends a link when its holder goes. */
    #follow(packet: Buffer): void {
      if (isConnectionComplete(packet)) {
        clearTimeout(this.#timer);
        if (packet[4] === 0 && this.#helper?.waiting) this.#helper.links.add(packet.readUInt16LE(5));
      } else if (isDisconnectionComplete(packet)) {
        const handle = packet.readUInt16LE(4);
        this.#helper?.links.delete(handle);
        for (const helper of this.#retired) {
          helper.links.delete(handle);
          this.#endIfIdle(helper);
        }
      }
    }

    #open(): void {
      const connector = openConnector();
      const helper: Helper = { connector, waiting: false, links: new Set() };
      this.#helper = helper;
      connector.send({ type: 'open', module, deviceId: this.#deviceId ?? 0 });
      if (this.#filter !== null) connector.send({ type: 'filter', filter: this.#filter });
      connector.onReturned(() => {
        helper.waiting = false;
        if (this.#helper !== helper) {
          // A given-up attempt's late end. The native code sends the bare command after a failed call: take it back.
          if (this.#retired.has(helper)) super.write(cancelCommand);
          this.#endIfIdle(helper);
          return;
        }
        if (this.#cancelled) super.write(cancelCommand);
        this.#cancelled = false;
        this.#sendQueued();
      });
      this.#sendQueued();
    }

    #endIfIdle(helper: Helper): void {
      if (!this.#retired.has(helper) || helper.waiting || helper.links.size > 0) return;
      this.#retired.delete(helper);
      helper.connector.kill();
    }

    /** Puts a stuck helper out of the way: at once when it holds no link, else when its links have ended. */
    #replace(helper: Helper): void {
      if (helper.links.size === 0) helper.connector.kill();
      else this.#retired.add(helper);
      this.#open();
    }

    #sendQueued(): void {
      if (this.#queued === null || this.#helper === null) return;
      const packet = this.#queued;
      this.#queued = null;
      this.#helper.waiting = true;
      this.#helper.connector.send({ type: 'write', packet });
    }

    override setFilter(filter: Buffer): void {
      super.setFilter(filter);
      this.#filter = Uint8Array.from(filter);
      this.#helper?.connector.send({ type: 'filter', filter: this.#filter });
    }

    override write(packet: Buffer): void {
      const opcode = opcodeOf(packet);
      const helper = this.#helper;
      if (helper === null) {
        super.write(packet);
      } else if (opcode === createConnection || opcode === extendedCreateConnection) {
        this.#queued = Uint8Array.from(packet);
        if (!helper.waiting) {
          this.#cancelled = false;
          this.#sendQueued();
        }
      } else if (opcode === createConnectionCancel && helper.waiting) {
        this.#cancelled = true;
        this.#queued = null;
        super.write(packet);
        clearTimeout(this.#timer);
        this.#timer = setTimeout(() => {
          if (!this.#cancelled || !helper.waiting || this.#helper !== helper) return;
          this.#cancelled = false;
          this.#replace(helper);
          this.emit('data', cancelledEvent);
        }, cancelGraceMs);
      } else {
        super.write(packet);
      }
    }

    override stop(): void {
      clearTimeout(this.#timer);
      for (const helper of [this.#helper, ...this.#retired]) helper?.connector.kill();
      this.#helper = null;
      this.#retired.clear();
      super.stop();
    }
  };
}

interface Helper {
  readonly connector: Connector;
  /** It is inside its blocking call. */
  waiting: boolean;
  /** Handles of the links that it made and holds. */
  readonly links: Set<number>;
}

/** Starts the helper from this process's own entry, which knows the role by its first argument. */
function forkConnector(): Connector {
  const entry = process.argv[1] ?? fileURLToPath(import.meta.url);
  const child: ChildProcess = fork(entry, [connectorRole], {
    serialization: 'advanced',
    execArgv: process.execArgv,
    stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
  });
  child.on('error', () => {});
  return {
    send: (message) => void (child.connected && child.send(message, undefined, undefined, () => {})),
    onReturned: (callback) =>
      void child.on('message', (message: FromConnector) => message.type === 'returned' && callback()),
    kill: () => void child.kill('SIGKILL'),
  };
}

/** First argument of the radio process's entry when it is to be the helper. */
export const connectorRole = 'connector';

/** The helper: one native socket, and commands that may block. Ends with the pipe. */
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
        socket.start();
        return;
      }
      case 'filter':
        socket?.setFilter(Buffer.from(message.filter));
        return;
      case 'write':
        socket?.write(Buffer.from(message.packet));
        process.send?.({ type: 'returned' } satisfies FromConnector);
        return;
    }
  });
}
