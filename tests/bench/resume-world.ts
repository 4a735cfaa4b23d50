// A simulated world that no hub makes: one athlete whose strap and clip go on by the clock on the wall, whoever listens. A hub
// that comes (again) finds its sensors after the time a link takes, and hears what they send from then on. SIMULATED.

import { createServer, type Server, type Socket } from 'node:net';
import { encodeHeartRateMeasurement } from '../../hub/sensors/simulated/encode-heart-rate-measurement.ts';
import { encodePlxContinuous } from '../../hub/sensors/simulated/encode-plx-continuous.ts';

export const worldAthlete = { athleteId: 'simulated-diver', name: 'SIMULATED Ilvo' } as const;
export const worldSensors = [
  { sensorId: 'simulated:clip', name: 'SIMULATED clip', kind: 'oximeter' },
  { sensorId: 'simulated:strap', name: 'SIMULATED strap', kind: 'heartRate' },
] as const;

/** One line of JSON a word. */
export type WorldWord =
  | {
      readonly type: 'link';
      readonly sensorId: string;
      readonly link: 'searching' | 'connecting' | 'connected';
    }
  | {
      readonly type: 'packet';
      readonly sensorId: string;
      readonly characteristic: string;
      readonly hex: string;
    };

/** A known sensor is found again within about so long by a phone or an adapter. From memory; 0.5 to 3 s in practice. */
const linkMs = 800;
const everyMs = 1_000;

export class World {
  readonly #server: Server;
  readonly #linked = new Set<Socket>();
  readonly #timer: NodeJS.Timeout;
  /** Since when the athlete holds; null while they breathe. */
  holdingSinceMs: number | null = null;
  /** What the clip reads while they hold, by the seconds of it. */
  spo2Of: (heldS: number) => number = (heldS) => 98 - Math.max(0, heldS - 30) * 0.05;
  /** From the first packet after a hub came. */
  onFirstPacket: () => void = () => undefined;

  constructor(path: string) {
    this.#server = createServer((socket) => this.#hubCame(socket));
    this.#server.listen(path);
    this.#timer = setInterval(() => this.#send(), everyMs);
  }

  close(): void {
    clearInterval(this.#timer);
    for (const socket of this.#linked) socket.destroy();
    this.#server.close();
  }

  #hubCame(socket: Socket): void {
    const tell = (word: WorldWord): void => {
      if (!socket.destroyed) socket.write(`${JSON.stringify(word)}\n`);
    };
    socket.on('error', () => undefined);
    socket.on('close', () => this.#linked.delete(socket));
    for (const { sensorId } of worldSensors) tell({ type: 'link', sensorId, link: 'connecting' });
    setTimeout(() => {
      for (const { sensorId } of worldSensors) tell({ type: 'link', sensorId, link: 'connected' });
      this.#linked.add(socket);
    }, linkMs);
  }

  #send(): void {
    if (this.#linked.size === 0) return;
    const nowMs = performance.now();
    const heldS = this.holdingSinceMs === null ? null : (nowMs - this.holdingSinceMs) / 1_000;
    const wobble = Math.sin(nowMs / 1_700);
    const pulse = heldS === null ? 68 + 6 * Math.sin(nowMs / 1_600) : 70 - Math.min(16, heldS * 0.4) + wobble;
    const spo2Percent = Math.round(heldS === null ? 98 + 0.4 * wobble : this.spo2Of(heldS));
    const heartRateBpm = Math.round(pulse);
    const clip = encodePlxContinuous({ spo2Percent, pulseRateBpm: heartRateBpm });
    const strap = encodeHeartRateMeasurement({ heartRateBpm, rrIntervalsMs: [60_000 / pulse] });
    const words: readonly WorldWord[] = [
      {
        type: 'packet',
        sensorId: 'simulated:clip',
        characteristic: '2a5f',
        hex: Buffer.from(clip).toString('hex'),
      },
      {
        type: 'packet',
        sensorId: 'simulated:strap',
        characteristic: '2a37',
        hex: Buffer.from(strap).toString('hex'),
      },
    ];
    for (const socket of this.#linked) for (const word of words) socket.write(`${JSON.stringify(word)}\n`);
    this.onFirstPacket();
  }
}
