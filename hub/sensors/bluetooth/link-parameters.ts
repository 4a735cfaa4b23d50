// How long and how often a link's two ends listen to each other, written into the commands on their way to the adapter:
// links that outlive a body in the way, answers to what sensors ask for, and scanning that leaves the links their air
// time. Section numbers are those of the Bluetooth Core Specification 5.3.

import type { EventEmitter } from 'node:events';

/** Connection intervals in units of 1.25 ms, timeouts in units of 10 ms, scanning in units of 0.625 ms. */
export const linkParameters = {
  /** 15 to 30 ms: services are listed within a second or two, and eight links still fit beside each other. */
  leastInterval: 12,
  mostInterval: 24,
  /**
   * 5.12 s. Bodies shade a sensor for 0.5 to 1.2 s at a time (measured on the rig's model of them, no source); the link
   * must outlive that, and end of itself when a sensor is gone. Its low byte is below 0x80, because the kernel socket's
   * library reads the two bytes as signed.
   */
  supervisionTimeout: 512,
  leastTimeout: 400,
  mostTimeout: 600,
  /** A sensor may sleep through events, but not longer than this in all, or it could not be asked whether it is there. */
  mostSleepMs: 400,
  /** Slower than a second a link is not worth having in a hold. */
  slowestInterval: 800,
  /** Scanning listens 20 ms of every 60 while there are links, all the time while there are none. */
  scanInterval: 96,
  scanWindowBesideLinks: 32,
  /** Corrections of one link's parameters before they are left as they are. */
  mostCorrections: 3,
} as const;

export interface ConnectionParameters {
  readonly leastInterval: number;
  readonly mostInterval: number;
  readonly latency: number;
  readonly timeout: number;
}

/**
 * What is granted of what a sensor asks for; null where it asks for something that cannot be (Vol 3 Part A s4.20).
 * The interval is its own choice within a second, its sleep and the timeout are kept within what a hold can bear.
 */
export function grantedParameters(asked: ConnectionParameters): ConnectionParameters | null {
  const { leastInterval, mostInterval, latency, timeout } = asked;
  const possible =
    leastInterval >= 6 &&
    leastInterval <= mostInterval &&
    mostInterval <= 3_200 &&
    latency <= 499 &&
    timeout >= 10 &&
    timeout <= 3_200;
  if (!possible) return null;
  const most = Math.min(mostInterval, linkParameters.slowestInterval);
  const awakeEveryMs = most * 1.25;
  return {
    leastInterval: Math.min(leastInterval, most),
    mostInterval: most,
    latency: Math.min(latency, Math.max(0, Math.floor(linkParameters.mostSleepMs / awakeEveryMs) - 1)),
    timeout: Math.min(Math.max(timeout, linkParameters.supervisionTimeout), linkParameters.mostTimeout),
  };
}

const isGood = (granted: ConnectionParameters, timeout: number, latency: number): boolean =>
  timeout >= linkParameters.leastTimeout &&
  timeout <= linkParameters.mostTimeout &&
  latency === granted.latency;

const setEventMask = 0x2001;
const setScanParameters = 0x200b;
const setExtendedScanParameters = 0x2041;
const createConnection = 0x200d;
const extendedCreateConnection = 0x2043;
const remoteParameterRequest = 0x06;

/** LE Connection Update (Vol 4 Part E s7.8.18), and the reply to a sensor's request (s7.8.31), which has the same shape. */
function parameterCommand(opcode: number, handle: number, wish: ConnectionParameters): Buffer {
  const packet = Buffer.alloc(18);
  packet[0] = 0x01;
  packet.writeUInt16LE(opcode, 1);
  packet[3] = 14;
  packet.writeUInt16LE(handle, 4);
  packet.writeUInt16LE(wish.leastInterval, 6);
  packet.writeUInt16LE(wish.mostInterval, 8);
  packet.writeUInt16LE(wish.latency, 10);
  packet.writeUInt16LE(wish.timeout, 12);
  return packet;
}
const connectionUpdate = 0x2013;
const remoteParameterReply = 0x2020;

/** One adapter's links as its commands and events tell of them. Pure but for what it remembers. */
export class LinkTuner {
  readonly #links = new Map<number, { corrections: number }>();
  readonly #ownsHost: boolean;

  /** @param ownsHost no kernel stands in between that answers sensors' requests itself. */
  constructor(ownsHost: boolean) {
    this.#ownsHost = ownsHost;
  }

  get openLinks(): number {
    return this.#links.size;
  }

  /** A command on its way to the adapter, with our parameters in place of the library's. */
  outward(packet: Buffer): Buffer {
    if (packet[0] !== 0x01 || packet.length < 4) return packet;
    const changed = Buffer.from(packet);
    switch (packet.readUInt16LE(1)) {
      case setEventMask:
        // Also tells of a sensor's request for other parameters (s7.8.1, bit 5): masked, it would be refused unheard.
        if (packet.length === 12) changed[4] = packet[4]! | 0x20;
        return changed;
      case setScanParameters:
        if (packet.length === 11) this.#setScan(changed, 5);
        return changed;
      case setExtendedScanParameters:
        for (let at = 8; at + 4 <= packet.length; at += 5) this.#setScan(changed, at);
        return changed;
      case createConnection:
        if (packet.length === 29) setLink(changed, 17);
        return changed;
      case extendedCreateConnection:
        for (let at = 18; at + 8 <= packet.length; at += 16) setLink(changed, at);
        return changed;
      default:
        return packet;
    }
  }

  #setScan(packet: Buffer, at: number): void {
    const { scanInterval, scanWindowBesideLinks } = linkParameters;
    packet.writeUInt16LE(scanInterval, at);
    packet.writeUInt16LE(this.#links.size > 0 ? scanWindowBesideLinks : scanInterval, at + 2);
  }

  /**
   * A packet from the adapter.
   * @returns what to answer the adapter with, and whether the library is to see the packet.
   */
  inward(packet: Buffer): { readonly answers: readonly Buffer[]; readonly isOurs: boolean } {
    if (packet[0] === 0x02) return this.#signal(packet);
    if (packet[0] !== 0x04) return nothing;
    if (packet[1] === 0x05 && packet.length >= 7 && packet[3] === 0) {
      this.#links.delete(packet.readUInt16LE(4));
      return nothing;
    }
    if (packet[1] !== 0x3e || packet.length < 5) return nothing;
    const kind = packet[3];
    if ((kind === 0x01 || kind === 0x0a) && packet[4] === 0 && packet[7] === 0) {
      const at = kind === 0x01 ? 15 : 27;
      if (packet.length < at + 6) return nothing;
      const handle = packet.readUInt16LE(5);
      this.#links.set(handle, { corrections: 0 });
      return this.#correct(handle, packet, at);
    }
    if (kind === 0x03 && packet[4] === 0 && packet.length >= 13) {
      return this.#correct(packet.readUInt16LE(5), packet, 7);
    }
    if (kind === remoteParameterRequest && this.#ownsHost && packet.length >= 14) {
      const asked = parametersAt(packet, 6);
      const handle = packet.readUInt16LE(4);
      const granted = grantedParameters(asked) ?? { ...asked, timeout: linkParameters.supervisionTimeout };
      return { answers: [parameterCommand(remoteParameterReply, handle, granted)], isOurs: true };
    }
    return nothing;
  }

  /** The adapter or the kernel settled on something: where a hold cannot bear it, other parameters are asked for. */
  #correct(handle: number, packet: Buffer, at: number): typeof nothing {
    const link = this.#links.get(handle);
    const interval = packet.readUInt16LE(at);
    const latency = packet.readUInt16LE(at + 2);
    const timeout = packet.readUInt16LE(at + 4);
    const granted = grantedParameters({ leastInterval: interval, mostInterval: interval, latency, timeout });
    if (link === undefined || granted === null || isGood(granted, timeout, latency)) return nothing;
    if (link.corrections >= linkParameters.mostCorrections) return nothing;
    link.corrections += 1;
    return { answers: [parameterCommand(connectionUpdate, handle, granted)], isOurs: false };
  }

  /** L2CAP Connection Parameter Update Request on the signalling channel (Vol 3 Part A s4.20, s4.21). */
  #signal(packet: Buffer): typeof nothing {
    const isRequest =
      packet.length >= 21 && packet.readUInt16LE(7) === 0x0005 && packet[9] === 0x12 && packet[11] === 8;
    if (!isRequest || !this.#ownsHost) return nothing;
    const handle = packet.readUInt16LE(1) & 0x0fff;
    const granted = grantedParameters(parametersAt(packet, 13));
    const response = Buffer.alloc(15);
    response[0] = 0x02;
    response.writeUInt16LE(handle, 1);
    response.writeUInt16LE(10, 3);
    response.writeUInt16LE(6, 5);
    response.writeUInt16LE(0x0005, 7);
    response[9] = 0x13;
    response[10] = packet[10]!;
    response.writeUInt16LE(2, 11);
    response.writeUInt16LE(granted === null ? 1 : 0, 13);
    const answers =
      granted === null ? [response] : [response, parameterCommand(connectionUpdate, handle, granted)];
    return { answers, isOurs: true };
  }
}

const nothing: { readonly answers: readonly Buffer[]; readonly isOurs: boolean } = {
  answers: [],
  isOurs: false,
};

const parametersAt = (packet: Buffer, at: number): ConnectionParameters => ({
  leastInterval: packet.readUInt16LE(at),
  mostInterval: packet.readUInt16LE(at + 2),
  latency: packet.readUInt16LE(at + 4),
  timeout: packet.readUInt16LE(at + 6),
});

function setLink(packet: Buffer, at: number): void {
  packet.writeUInt16LE(linkParameters.leastInterval, at);
  packet.writeUInt16LE(linkParameters.mostInterval, at + 2);
  packet.writeUInt16LE(0, at + 4);
  packet.writeUInt16LE(linkParameters.supervisionTimeout, at + 6);
}

type SocketClass = new () => EventEmitter & { write(packet: Buffer): void };

/** A socket class whose commands and events pass through a `LinkTuner`. */
export function withLinkParameters<Base extends SocketClass>(
  base: Base,
  ownsHost: boolean,
): Base & { loadDriver(): unknown } {
  const Socket = base as unknown as SocketClass;
  class TunedSocket extends Socket {
    static loadDriver(): unknown {
      return TunedSocket;
    }

    readonly #tuner = new LinkTuner(ownsHost);

    override write(packet: Buffer): void {
      super.write(this.#tuner.outward(packet));
    }

    override emit(name: string | symbol, ...values: unknown[]): boolean {
      if (name !== 'data' || !Buffer.isBuffer(values[0])) return super.emit(name, ...values);
      const { answers, isOurs } = this.#tuner.inward(values[0]);
      const heard = isOurs || super.emit(name, ...values);
      for (const answer of answers) super.write(answer);
      return heard;
    }
  }
  return TunedSocket as unknown as Base & { loadDriver(): unknown };
}
