// A sensor that nobody wears, looked at closely: links to it, keeps what it sends for a person to read, and starts it by a profile on
// trial. Between sessions only, and only as long as somebody asks: a page that is gone leaves no link behind.

import type { Said } from '../../../shared/said.ts';
import { said } from '../../../shared/said.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import { failed, ok, type Result } from '../../../src/result.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { SensorPacket, SensorStatus } from '../../base/ports/sensor-source.ts';
import type { BluetoothSource } from './bluetooth-source.ts';
import { profileLinkOf } from './profile-link.ts';
import type { DiscoveredCharacteristic } from './radio.ts';

export interface BenchPacket {
  /** Counted from 1 for each examination. */
  readonly number: number;
  /** Since the first packet. */
  readonly atMs: number;
  readonly characteristic: string;
  readonly bytes: Uint8Array;
}

export interface BenchView {
  readonly status: SensorStatus;
  readonly characteristics: readonly DiscoveredCharacteristic[];
  readonly packets: readonly BenchPacket[];
}

/** The part of the Bluetooth source that the bench works with. */
export type ExaminableSource = Pick<
  BluetoothSource,
  'examine' | 'lookAround' | 'heard' | 'characteristicsOf'
>;

/** A page asks every second or so; without being asked for this long the link is let go. Our choice. */
const leaseMs = 15_000;
/** A minute of a fast sensor. */
const mostPackets = 4_000;

export class SensorBench {
  readonly #source: ExaminableSource;
  readonly #clock: Clock;
  readonly #mayExamine: (sensorId: string) => Said | null;
  #sensorId: string | null = null;
  #packets: BenchPacket[] = [];
  #count = 0;
  #firstAtMs = 0;
  #cancelLook: (() => void) | null = null;
  #cancelLease: (() => void) | null = null;

  /** `mayExamine` says why a sensor may not be looked at now, or null. */
  constructor(source: ExaminableSource, clock: Clock, mayExamine: (sensorId: string) => Said | null) {
    this.#source = source;
    this.#clock = clock;
    this.#mayExamine = mayExamine;
  }

  /** All that is in the air now, best heard first; goes on listening for a while. */
  around(): readonly SensorStatus[] {
    this.#source.lookAround(true);
    this.#cancelLook?.();
    this.#cancelLook = this.#clock.after(leaseMs, () => this.#source.lookAround(false));
    return this.#source.heard.toSorted((a, b) => (b.rssiDbm ?? -200) - (a.rssiDbm ?? -200));
  }

  /** Begins anew where one was examined already. */
  examine(sensorId: string, profile: SensorProfile | null): Result<true, Said> {
    const refusal = this.#mayExamine(sensorId);
    if (refusal !== null) return failed(refusal);
    if (!this.#source.heard.some((status) => status.sensorId === sensorId))
      return failed(said('bench.notHeard'));
    this.#sensorId = sensorId;
    this.#packets = [];
    this.#count = 0;
    const link = profile === null ? null : profileLinkOf(profile);
    this.#source.examine({ sensorId, profile: link }, (packet) => this.#keep(packet));
    this.#renew();
    return ok(true);
  }

  /** What came after packet `after`; null where nothing is examined. */
  view(after: number): BenchView | null {
    const sensorId = this.#sensorId;
    if (sensorId === null) return null;
    const status = this.#source.heard.find((heard) => heard.sensorId === sensorId);
    if (status === undefined) {
      this.end();
      return null;
    }
    this.#renew();
    return {
      status,
      characteristics: this.#source.characteristicsOf(sensorId),
      packets: this.#packets.filter(({ number }) => number > after),
    };
  }

  end(): void {
    this.#cancelLease?.();
    this.#cancelLease = null;
    if (this.#sensorId === null) return;
    this.#sensorId = null;
    this.#packets = [];
    this.#source.examine(null, () => undefined);
  }

  close(): void {
    this.#cancelLook?.();
    this.end();
  }

  #renew(): void {
    this.#cancelLease?.();
    this.#cancelLease = this.#clock.after(leaseMs, () => this.end());
  }

  #keep({ receivedAtMs, characteristic, bytes }: SensorPacket): void {
    if (this.#count === 0) this.#firstAtMs = receivedAtMs;
    this.#count += 1;
    const atMs = Math.max(0, receivedAtMs - this.#firstAtMs);
    this.#packets.push({ number: this.#count, atMs, characteristic, bytes });
    if (this.#packets.length > mostPackets) this.#packets = this.#packets.slice(-mostPackets / 2);
  }
}
