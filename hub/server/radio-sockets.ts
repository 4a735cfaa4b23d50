// Where radios on other computers connect: only those that have joined, each once, as much as one of them sends in earnest.
// What they say is understood, or not, in hub/sensors/bluetooth/elsewhere.

import type { IncomingMessage } from 'node:http';
import type { Duplex } from 'node:stream';
import { type WebSocket, WebSocketServer } from 'ws';
import { closeCodes } from '../../shared/error-codes.ts';
import type { DeviceView } from '../../shared/http.ts';
import type { HubLog } from '../base/log.ts';
import type { Clock } from '../base/ports/clock.ts';
import { ServiceScope } from '../base/service-scope.ts';
import type { DeviceRegister } from '../devices/join/device-register.ts';
import type { RadioHall } from '../sensors/bluetooth/elsewhere/elsewhere-radios.ts';
import { mostRadioMessageBytes } from '../sensors/bluetooth/elsewhere/radio-wire.ts';
import { bearerOf, isKnownHost } from './access.ts';
import { TokenBucket } from './token-bucket.ts';

export const radioPath = '/radio';

/**
 * Ten minutes of eight sensors that were kept are a megabyte; more than this a second is not read, so that whoever sends it has to
 * wait and the hub does not. A message is read whole.
 */
const burstBytes = 512 * 1024;
const bytesPerSecond = 384 * 1024;
const pauseMs = 100;
/** How often it is looked whether a radio may still be here: its time ends by itself. */
const watchEveryMs = 1_000;
const goodbyeMs = 2_000;

export interface RadioDoorPorts {
  readonly hall: RadioHall;
  readonly devices: DeviceRegister;
  readonly isLanName: (name: string) => boolean;
  readonly clock: Clock;
  readonly log: HubLog;
}

export class RadioDoor {
  readonly #ports: RadioDoorPorts;
  readonly #server = new WebSocketServer({
    noServer: true,
    maxPayload: mostRadioMessageBytes,
    perMessageDeflate: false,
    maxFragments: 64,
  });
  readonly #open = new Map<WebSocket, string>();
  readonly #services = new ServiceScope();

  constructor(ports: RadioDoorPorts) {
    this.#ports = ports;
    const { devices, hall, clock } = ports;
    this.#services.onClose(() => this.#closeAll());
    this.#services.onClose(
      devices.onRemoved((deviceId) => {
        this.#drop(deviceId);
        hall.remove(deviceId);
      }),
    );
    this.#services.onClose(
      clock.every(watchEveryMs, () => {
        const good = new Set(devices.devices().map(({ deviceId }) => deviceId));
        for (const deviceId of this.#open.values()) if (!good.has(deviceId)) this.#drop(deviceId);
      }),
    );
  }

  async close(): Promise<void> {
    await this.#services.close();
  }

  upgrade(request: IncomingMessage, socket: Duplex, head: Buffer): void {
    const refuse = (status: string): void => {
      socket.end(`HTTP/1.1 ${status}\r\nConnection: close\r\nContent-Length: 0\r\n\r\n`);
    };
    // A program sends no origin: whatever does is a page, which has no business here.
    if (!isKnownHost(request, this.#ports.isLanName) || request.headers.origin !== undefined) {
      refuse('403 Forbidden');
      return;
    }
    const device = this.#ports.devices.radioOf(bearerOf(request) ?? '');
    if (device === undefined) {
      refuse('401 Unauthorized');
      return;
    }
    this.#server.handleUpgrade(request, socket, head, (webSocket) => this.#attach(webSocket, device));
  }

  #attach(webSocket: WebSocket, { deviceId, name }: DeviceView): void {
    const { hall, log } = this.#ports;
    const line = {
      send: (text: string) => webSocket.send(text),
      cut: () => webSocket.terminate(),
    };
    const bytes = new TokenBucket(burstBytes, bytesPerSecond, performance.now());
    this.#open.set(webSocket, deviceId);
    webSocket.on('message', (data: Buffer, isBinary) => {
      if (!bytes.take(data.length, performance.now())) this.#holdBack(webSocket);
      const fault = isBinary ? 'badMessage' : hall.received(deviceId, line, data.toString());
      if (fault === null) return;
      log.warn(`radio cut: ${fault}`);
      const code = fault === 'badMessage' ? closeCodes.badMessage : closeCodes.wrongProtocolVersion;
      this.#sayGoodbye(webSocket, code, fault);
    });
    webSocket.on('close', () => {
      this.#open.delete(webSocket);
      hall.lineEnded(deviceId, line);
    });
    webSocket.on('error', (error) => log.info(`radio socket: ${error.message}`));
    hall.attach({ deviceId, name }, line);
  }

  /** Nothing more is read of it for a moment. */
  #holdBack(webSocket: WebSocket): void {
    webSocket.pause();
    this.#ports.clock.after(pauseMs, () => webSocket.resume());
  }

  #drop(deviceId: string): void {
    for (const [webSocket, each] of this.#open)
      if (each === deviceId) this.#sayGoodbye(webSocket, closeCodes.notAllowed, 'not allowed');
  }

  #sayGoodbye(webSocket: WebSocket, code: number, reason: string): void {
    webSocket.removeAllListeners('message');
    webSocket.close(code, reason);
    const stopWaiting = this.#ports.clock.after(goodbyeMs, () => webSocket.terminate());
    webSocket.once('close', stopWaiting);
  }

  async #closeAll(): Promise<void> {
    for (const webSocket of this.#open.keys())
      this.#sayGoodbye(webSocket, closeCodes.hubStopping, 'hub stopping');
    await new Promise<void>((resolve) => this.#server.close(() => resolve()));
  }
}
