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

    #connector: Connector | null = null;
    #deviceId: number | null = null;
    #filter: Uint8Array | null = null;
    /** The helper is inside its blocking call. */
    #waiting = false;
    #cancelled = false;
    /** A command that came while the helper had not returned from the one before. */
    #queued: Uint8Array | null = null;
    #timer: NodeJS.Timeout | undefined;

    override bindRaw(deviceId?: number, parameters?: unknown): number {
      this.#deviceId = super.bindRaw(deviceId, parameters) ?? deviceId ?? 0;
      this.on('data', (packet: Buffer) => {
        if (isConnectionComplete(packet)) clearTimeout(this.#timer);
      });
      this.#open();
      return this.#deviceId;
    }

    #open(): void {
      this.#waiting = false;
      const connector = openConnector();
      this.#connector = connector;
      connector.send({ type: 'open', module, deviceId: this.#deviceId ?? 0 });
      if (this.#filter !== null) connector.send({ type: 'filter', filter: this.#filter });
      connector.onReturned(() => {
        if (this.#connector !== connector) return;
        this.#waiting = false;
        // After a failed call the native code sends the bare command: take that back too.
        if (this.#cancelled) super.write(Buffer.from([0x01, 0x0e, 0x20, 0x00]));
        this.#cancelled = false;
        this.#sendQueued();
      });
      this.#sendQueued();
    }

    #sendQueued(): void {
      if (this.#queued === null) return;
      const packet = this.#queued;
      this.#queued = null;
      this.#waiting = true;
      this.#connector?.send({ type: 'write', packet });
    }

    override setFilter(filter: Buffer): void {
      super.setFilter(filter);
      this.#filter = Uint8Array.from(filter);
      this.#connector?.send({ type: 'filter', filter: this.#filter });
    }

    override write(packet: Buffer): void {
      const opcode = opcodeOf(packet);
      if (this.#connector === null) {
        super.write(packet);
      } else if (opcode === createConnection || opcode === extendedCreateConnection) {
        this.#queued = Uint8Array.from(packet);
        if (!this.#waiting) this.#sendQueued();
      } else if (opcode === createConnectionCancel && this.#waiting) {
        this.#cancelled = true;
        this.#queued = null;
        super.write(packet);
        clearTimeout(this.#timer);
        this.#timer = setTimeout(() => {
          if (!this.#cancelled || !this.#waiting) return;
          this.#cancelled = false;
          this.#connector?.kill();
          this.#open();
          this.emit('data', cancelledEvent);
        }, cancelGraceMs);
      } else {
        super.write(packet);
      }
    }

    override stop(): void {
      clearTimeout(this.#timer);
      this.#connector?.kill();
      this.#connector = null;
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
