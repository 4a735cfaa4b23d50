// Asks which sensor answers: listens to what every sensor sends, in a session or not, whoever is thought to wear it. Says
// only which one fell silent and came back; no reading is shown or kept.

import { type MonotonicMs, monotonicMs, type ProcessMs } from '../../shared/units.ts';
import type { SensorProfile } from '../../src/profiles/sensor-profile.ts';
import { type AnswerState, type AnswerWatch, createAnswerWatch } from '../../src/signal/answering-sensor.ts';
import { createPacketReader, type PacketReader } from '../../src/signal/packet-reader.ts';
import type { SensorPacket } from '../base/ports/sensor-source.ts';

/** Nobody waits longer for a person to find their finger. Our choice. */
const askingForMs = 90_000;

interface Asking {
  readonly sinceMs: ProcessMs;
  readonly reader: PacketReader;
  readonly watch: AnswerWatch;
}

export class AnsweringSensors {
  readonly #profiles: () => readonly SensorProfile[];
  #asking: Asking | undefined;

  /** `profiles` are those in use when somebody asks. */
  constructor(profiles: () => readonly SensorProfile[]) {
    this.#profiles = profiles;
  }

  /** Begins, anew where somebody was being asked already. */
  ask(nowMs: ProcessMs): void {
    this.#asking = {
      sinceMs: nowMs,
      reader: createPacketReader(this.#profiles()),
      watch: createAnswerWatch(),
    };
  }

  packet({ sensorId, characteristic, bytes, receivedAtMs }: SensorPacket): void {
    const asking = this.#asking;
    if (asking === undefined) return;
    if (receivedAtMs - asking.sinceMs > askingForMs) {
      this.#asking = undefined;
      return;
    }
    const atMs = sinceAsked(asking, receivedAtMs);
    const { samples, missing } = asking.reader.read({ atMs, sensorId, characteristic, bytes });
    if (samples.length + missing.length === 0) return;
    asking.watch.push(
      sensorId,
      atMs,
      samples.some(({ quality, value }) => quality !== 'bad' && value > 0),
    );
  }

  /** What each sensor has done since; null while nobody is being asked. */
  states(nowMs: ProcessMs): ReadonlyMap<string, AnswerState> | null {
    const asking = this.#asking;
    if (asking === undefined || nowMs - asking.sinceMs > askingForMs) return null;
    return asking.watch.states(sinceAsked(asking, nowMs));
  }
}

const sinceAsked = ({ sinceMs }: Asking, atMs: ProcessMs): MonotonicMs =>
  monotonicMs(Math.max(0, atMs - sinceMs));
