// A Bluetooth controller made of lies: answers set-up properly, then sends whatever bytes a test gives it, as
// advertisements, as events, and as answers and notifications of a sensor.

import net from 'node:net';

/** Address of the one sensor that can be connected to, as on the air (little end first), and as the hub writes it. */
const sensorAddress = [0x0c, 0x0b, 0x0a, 0x03, 0x02, 0x01];
export const hostileSensorId = 'bt:0102030a0b0c';
const linkHandle = 0x40;

export class HostileController {
  readonly path: string;
  /** What the sensor answers to an ATT request; null leaves it unanswered. */
  answer: (request: Buffer) => Uint8Array | null = () => null;
  /** Links that the hub asked for. */
  connects = 0;
  attRequests = 0;
  readonly #server: net.Server;
  #hub: net.Socket | null = null;

  private constructor(path: string) {
    this.path = path;
    this.#server = net.createServer((socket) => this.#join(socket));
  }

  static async open(path: string): Promise<HostileController> {
    const controller = new HostileController(path);
    await new Promise<void>((resolve) => controller.#server.listen(path, resolve));
    return controller;
  }

  close(): void {
    this.#hub?.destroy();
    this.#server.close();
  }

  /** An LE Advertising Report with this payload, from the sensor or from the address given. */
  advertise(payload: Uint8Array, address: readonly number[] = sensorAddress, eventType = 0): void {
    const data = payload.slice(0, 31);
    this.event(0x3e, [0x02, 1, eventType, 0, ...address, data.length, ...data, 0xc4]);
  }

  event(code: number, parameters: readonly number[]): void {
    this.#hub?.write(Buffer.from([0x04, code, parameters.length & 0xff, ...parameters.slice(0, 255)]));
  }

  /** An ATT packet from the sensor. */
  att(packet: Uint8Array): void {
    this.acl([packet.length & 0xff, packet.length >> 8, 4, 0, ...packet]);
  }

  acl(payload: readonly number[]): void {
    this.#hub?.write(
      Buffer.from([0x02, linkHandle, 0x20, payload.length & 0xff, payload.length >> 8, ...payload]),
    );
  }

  #join(hub: net.Socket): void {
    this.#hub = hub;
    hub.on('error', () => {});
    hub.on('data', (bytes: Buffer) => {
      for (let at = 0; at < bytes.length; ) {
        const length = bytes[at] === 0x01 ? 4 + bytes[at + 3]! : 5 + bytes.readUInt16LE(at + 3);
        this.#take(bytes.subarray(at, at + length));
        at += length;
      }
    });
  }

  #take(packet: Buffer): void {
    if (packet[0] === 0x02) {
      this.event(0x13, [1, linkHandle, 0, 1, 0]);
      this.attRequests += 1;
      const answer = this.answer(packet.subarray(9));
      if (answer !== null) this.att(answer);
      return;
    }
    const [low, high] = [packet[1]!, packet[2]!];
    const opcode = low | (high << 8);
    if (opcode === 0x200d) {
      this.connects += 1;
      this.event(0x0f, [0, 1, low, high]);
      this.event(0x3e, [0x01, 0, linkHandle, 0, 0, 0, ...sensorAddress, 0x18, 0, 0, 0, 0x2a, 0, 0]);
    } else if (opcode === 0x0406) {
      this.event(0x0f, [0, 1, low, high]);
      this.event(0x05, [0, linkHandle, 0, 0x16]);
    } else if (opcode === 0x1001) {
      // Version 5.0: below 4.0 a library takes it for one without Low Energy.
      this.event(0x0e, [1, low, high, 0, 9, 0, 0, 9, 0, 0, 0, 0]);
    } else if (opcode === 0x2002) {
      this.event(0x0e, [1, low, high, 0, 27, 0, 8]);
    } else {
      this.event(0x0e, [1, low, high, 0, ...new Array<number>(64).fill(0)]);
    }
  }
}
