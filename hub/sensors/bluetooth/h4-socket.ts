// An HCI socket over a serial port, TCP or unix socket, in the shape that noble expects of its native one. Resets the
// controller when it opens, so that links left over from before do not haunt it.

import { EventEmitter } from 'node:events';
import net from 'node:net';
import type { Duplex } from 'node:stream';
import { type Said, said } from '../../../shared/said.ts';
import { initialH4State, passesHciFilter, takeH4 } from './h4-framing.ts';
import type { HciAddress } from './hci-address.ts';

/** HCI_Reset (Core 5.3 Vol 4 Part E s7.3.2) with its H4 type, and the event that says it is done. */
const resetCommand = Uint8Array.of(0x01, 0x03, 0x0c, 0x00);
const isResetComplete = (packet: Uint8Array): boolean =>
  packet[0] === 0x04 && packet[1] === 0x0e && packet[4] === 0x03 && packet[5] === 0x0c;

/** A controller that does not answer a reset in this time is not there. Common practice, no source. */
const resetTimeoutMs = 3_000;

async function openStream(address: HciAddress): Promise<Duplex> {
  if (address.kind === 'serial') {
    const { SerialPort } = await import('serialport');
    return new SerialPort({
      path: address.path,
      baudRate: address.baudRate,
      rtscts: true,
    });
  }
  const socket =
    address.kind === 'tcp'
      ? net.connect({ host: address.host, port: address.port })
      : net.connect(address.path);
  socket.setNoDelay?.(true);
  return socket;
}

/** What noble asks of the class: construction without arguments, and the driver choice of one of the libraries. */
export interface H4SocketClass {
  new (): EventEmitter & {
    bindRaw(deviceId?: number): number;
    start(): void;
    stop(): void;
    isDevUp(): boolean;
    setFilter(filter: Buffer): void;
    write(packet: Buffer): void;
  };
  loadDriver(): unknown;
}

/**
 * Builds the class that replaces `bluetooth-hci-socket` for one address.
 * @param onFault told once when the transport fails or ends; the radio process is started again after that.
 */
export function makeH4Socket(address: HciAddress, onFault: (reason: Said) => void): H4SocketClass {
  return class H4Socket extends EventEmitter {
    /** The entry of the second supported library's driver. */
    static loadDriver() {
      return H4Socket;
    }

    #stream: Duplex | null = null;
    #framing = initialH4State;
    #filter: Uint8Array | null = null;
    #started = false;
    #resetDone = false;
    #queued: Buffer[] = [];
    #faulted = false;
    #ending = false;
    #timer: NodeJS.Timeout | undefined;

    bindRaw(deviceId?: number): number {
      this.#open();
      return deviceId ?? 0;
    }

    bindUser(deviceId?: number): number {
      return this.bindRaw(deviceId);
    }

    /** The kernel's management channel, which is not there: what is written to it is dropped. */
    bindControl(): number {
      this.#ending = true;
      return 0;
    }

    #open(): void {
      openStream(address).then(
        (stream) => {
          this.#stream = stream;
          stream.on('data', (chunk: Buffer) => this.#onBytes(chunk));
          stream.on('error', (error: Error) => this.#fault(said('said.asTold', { text: error.message })));
          stream.on('close', () => this.#fault(said('radio.connectionEnded')));
          stream.write(resetCommand);
          this.#timer = setTimeout(() => this.#fault(said('radio.noAnswer')), resetTimeoutMs);
        },
        (error: Error) => this.#fault(said('said.asTold', { text: error.message })),
      );
    }

    #fault(reason: Said): void {
      clearTimeout(this.#timer);
      if (this.#faulted || this.#ending) return;
      this.#faulted = true;
      this.#stream?.destroy();
      onFault(reason);
    }

    /** True while opening: what is written then is kept until the controller has been reset. */
    isDevUp(): boolean {
      return !this.#faulted;
    }

    getDeviceList(): readonly { devId: number; devUp: boolean }[] {
      return [{ devId: 0, devUp: true }];
    }

    setFilter(filter: Buffer): void {
      this.#filter = new Uint8Array(filter);
    }

    start(): void {
      this.#started = true;
    }

    stop(): void {
      this.#started = false;
      this.#ending = true;
      this.#stream?.destroy();
    }

    reset(): void {}

    cleanup(): void {}

    setAuth(): void {}

    write(packet: Buffer): void {
      if (this.#faulted || this.#ending) return;
      if (this.#resetDone) this.#stream?.write(packet);
      else this.#queued.push(Buffer.from(packet));
    }

    #onBytes(chunk: Buffer): void {
      const taken = takeH4(this.#framing, chunk);
      this.#framing = taken.state;
      for (const packet of taken.packets) this.#onPacket(packet);
      if (taken.brokenBy !== null) {
        this.#fault(said('radio.framingLost', { packetType: taken.brokenBy }));
      }
    }

    #onPacket(packet: Uint8Array): void {
      if (!this.#resetDone) {
        if (!isResetComplete(packet)) return;
        clearTimeout(this.#timer);
        this.#resetDone = true;
        for (const queued of this.#queued.splice(0)) this.#stream?.write(queued);
        return;
      }
      if (!this.#started || (this.#filter !== null && !passesHciFilter(this.#filter, packet))) return;
      // One packet a turn of the event loop, as the native socket does: noble registers handlers in between.
      setImmediate(() => this.emit('data', Buffer.from(packet)));
    }
  };
}
