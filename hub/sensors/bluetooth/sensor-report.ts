// What can be told of a sensor without telling anything of a person: its table, how often and how regularly it sends, how long
// its packets are and what of them is understood. No name, no address, no serial number, no reading. Pure.

import { decodePacket, type Reading } from '../../../src/gatt/decode-packet.ts';
import type { SensorPacket, SensorStatus } from '../../base/ports/sensor-source.ts';
import type { DiscoveredCharacteristic } from './radio.ts';

/** Where the report was made. Nothing of it tells one computer from another of its kind. */
export interface ReportSurroundings {
  readonly program: string;
  readonly node: string;
  readonly platform: string;
  readonly architecture: string;
  /** The first two numbers of the system's version. */
  readonly system: string;
  readonly library: string;
  readonly transport: 'kernel' | 'serial' | 'tcp' | 'unix';
}

interface CharacteristicReport {
  readonly service: string | null;
  readonly characteristic: string;
  readonly properties: readonly string[];
  readonly packets: number;
  /** Null where nothing came. */
  readonly bytes: { readonly least: number; readonly most: number } | null;
  /** Between packets of one link; null with fewer than two. */
  readonly intervalMs: {
    readonly tenthPercentile: number;
    readonly median: number;
    readonly ninetiethPercentile: number;
    readonly longest: number;
  } | null;
  /** How many were read, and why others were not, by code. */
  readonly understood: number;
  readonly notUnderstood: Readonly<Record<string, number>>;
  /** Of standard measurements: how many had each part that is optional. */
  readonly withPart: Readonly<Record<string, number>>;
}

export interface SensorReport {
  readonly reportVersion: 1;
  /** For the reader, who may want to see what is given away. */
  readonly about: string;
  readonly makeAndModel: string;
  readonly surroundings: ReportSurroundings;
  readonly listenedS: number;
  readonly kinds: readonly string[];
  readonly links: {
    readonly made: number;
    readonly lost: number;
    /** From the first attempt to the first link; null without one. */
    readonly firstAfterMs: number | null;
    /** From the first link to the first packet of a measurement. */
    readonly firstPacketAfterMs: number | null;
    readonly signalDbm: { readonly least: number; readonly most: number } | null;
    readonly tellsBattery: boolean;
    /** What kept it from working, by code. */
    readonly hindrances: readonly string[];
  };
  readonly characteristics: readonly CharacteristicReport[];
}

interface Arrivals {
  count: number;
  leastBytes: number;
  mostBytes: number;
  lastAtMs: number | null;
  readonly intervalsMs: number[];
  understood: number;
  readonly notUnderstood: Record<string, number>;
  readonly withPart: Record<string, number>;
}

const isMeasurement = (reading: Reading): boolean =>
  reading.kind === 'heartRate' || reading.kind === 'plxContinuous' || reading.kind === 'plxSpotCheck';

/** Hears what one sensor does, and tells it at the end. Times are of one monotonic clock, in ms. */
export class SensorReportBuilder {
  readonly #startedAtMs: number;
  readonly #arrivals = new Map<string, Arrivals>();
  readonly #hindrances = new Set<string>();
  readonly #signalsDbm: number[] = [];
  #table: readonly DiscoveredCharacteristic[] = [];
  #kinds: readonly string[] = [];
  #link: SensorStatus['link'] = 'off';
  #made = 0;
  #lost = 0;
  #linkedAtMs: number | null = null;
  #measuredAtMs: number | null = null;
  #tellsBattery = false;

  constructor(startedAtMs: number) {
    this.#startedAtMs = startedAtMs;
  }

  status({ kinds, link, detail, rssiDbm, batteryPercent }: SensorStatus, atMs: number): void {
    this.#kinds = kinds;
    if (rssiDbm !== null) this.#signalsDbm.push(rssiDbm);
    if (batteryPercent !== null) this.#tellsBattery = true;
    // The code alone: what fills its sentence may be a name.
    if (detail !== null) this.#hindrances.add(detail.code);
    if (link === this.#link) return;
    if (link === 'connected') {
      this.#made += 1;
      this.#linkedAtMs ??= atMs;
    } else if (this.#link === 'connected') {
      this.#lost += 1;
      // A silence between two links is no interval of the sensor's.
      for (const arrivals of this.#arrivals.values()) arrivals.lastAtMs = null;
    }
    this.#link = link;
  }

  table(characteristics: readonly DiscoveredCharacteristic[]): void {
    if (characteristics.length > this.#table.length) this.#table = characteristics;
  }

  packet({ characteristic, bytes, receivedAtMs }: SensorPacket): void {
    const arrivals = this.#arrivalsOf(characteristic);
    arrivals.count += 1;
    arrivals.leastBytes = Math.min(arrivals.leastBytes, bytes.length);
    arrivals.mostBytes = Math.max(arrivals.mostBytes, bytes.length);
    if (arrivals.lastAtMs !== null) arrivals.intervalsMs.push(receivedAtMs - arrivals.lastAtMs);
    arrivals.lastAtMs = receivedAtMs;
    const decoded = decodePacket(characteristic, bytes);
    if (!decoded.ok) {
      arrivals.notUnderstood[decoded.reason] = (arrivals.notUnderstood[decoded.reason] ?? 0) + 1;
      return;
    }
    arrivals.understood += 1;
    if (isMeasurement(decoded.value)) this.#measuredAtMs ??= receivedAtMs;
    for (const part of partsOf(decoded.value)) arrivals.withPart[part] = (arrivals.withPart[part] ?? 0) + 1;
  }

  /** `about` is the sentence for the reader, `toFillIn` what stands where make and model may be written by hand. */
  build(
    surroundings: ReportSurroundings,
    words: { readonly about: string; readonly toFillIn: string },
    atMs: number,
  ): SensorReport {
    const listed = new Set(this.#table.map(({ characteristic }) => characteristic));
    const unlisted = [...this.#arrivals.keys()].filter((characteristic) => !listed.has(characteristic));
    return {
      reportVersion: 1,
      about: words.about,
      makeAndModel: words.toFillIn,
      surroundings,
      listenedS: Math.round((atMs - this.#startedAtMs) / 1_000),
      kinds: this.#kinds,
      links: {
        made: this.#made,
        lost: this.#lost,
        firstAfterMs: this.#linkedAtMs === null ? null : Math.round(this.#linkedAtMs - this.#startedAtMs),
        firstPacketAfterMs:
          this.#measuredAtMs === null || this.#linkedAtMs === null
            ? null
            : Math.round(this.#measuredAtMs - this.#linkedAtMs),
        signalDbm:
          this.#signalsDbm.length === 0
            ? null
            : { least: Math.min(...this.#signalsDbm), most: Math.max(...this.#signalsDbm) },
        tellsBattery: this.#tellsBattery,
        hindrances: [...this.#hindrances].sort(),
      },
      characteristics: [
        ...this.#table.map(({ service, characteristic, properties }) =>
          reportOf(service, characteristic, properties, this.#arrivals.get(characteristic)),
        ),
        ...unlisted.map((characteristic) =>
          reportOf(null, characteristic, [], this.#arrivals.get(characteristic)),
        ),
      ],
    };
  }

  #arrivalsOf(characteristic: string): Arrivals {
    const known = this.#arrivals.get(characteristic);
    if (known !== undefined) return known;
    const fresh: Arrivals = {
      count: 0,
      leastBytes: Number.POSITIVE_INFINITY,
      mostBytes: 0,
      lastAtMs: null,
      intervalsMs: [],
      understood: 0,
      notUnderstood: {},
      withPart: {},
    };
    this.#arrivals.set(characteristic, fresh);
    return fresh;
  }
}

/** Parts of a measurement that the standard leaves open, present in this one. Never a value. */
function partsOf(reading: Reading): readonly string[] {
  if (reading.kind === 'heartRate') {
    const { rrIntervalsMs, skinContact, energyExpendedKj } = reading.measurement;
    return [
      ...(rrIntervalsMs.length > 0 ? ['rrIntervals'] : []),
      ...(skinContact === undefined ? [] : ['skinContact']),
      ...(energyExpendedKj === undefined ? [] : ['energyExpended']),
    ];
  }
  if (reading.kind !== 'plxContinuous') return [];
  return Object.entries(reading.measurement)
    .filter(([, value]) => value !== undefined && value !== null)
    .map(([part]) => part);
}

function reportOf(
  service: string | null,
  characteristic: string,
  properties: readonly string[],
  arrivals: Arrivals | undefined,
): CharacteristicReport {
  const intervals = arrivals?.intervalsMs.toSorted((a, b) => a - b) ?? [];
  const at = (share: number): number =>
    Math.round(intervals[Math.min(intervals.length - 1, Math.floor(share * intervals.length))]!);
  return {
    service,
    characteristic,
    properties,
    packets: arrivals?.count ?? 0,
    bytes: arrivals === undefined ? null : { least: arrivals.leastBytes, most: arrivals.mostBytes },
    intervalMs:
      intervals.length === 0
        ? null
        : {
            tenthPercentile: at(0.1),
            median: at(0.5),
            ninetiethPercentile: at(0.9),
            longest: Math.round(intervals.at(-1)!),
          },
    understood: arrivals?.understood ?? 0,
    notUnderstood: arrivals?.notUnderstood ?? {},
    withPart: arrivals?.withPart ?? {},
  };
}

/**
 * The report as text. Some makers put the address of a sensor into the numbers of its services: wherever it stands, in
 * either order of its bytes, it is taken out.
 */
export function reportText(report: SensorReport, sensorId: string): string {
  const text = `${JSON.stringify(report, null, 2)}\n`;
  const digits = /([0-9a-f]{2}[:-]?){6}/i.exec(sensorId)?.[0].replaceAll(/[:-]/g, '').toLowerCase();
  if (digits === undefined || digits.length !== 12) return text;
  const bytes = digits.match(/../g)!;
  return [bytes, bytes.toReversed()].reduce(
    (masked, order) => masked.replaceAll(new RegExp(order.join('[:-]?'), 'gi'), 'x'.repeat(12)),
    text,
  );
}
