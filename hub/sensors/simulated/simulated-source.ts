// The simulator as a sensor source: each athlete's strap and oximeter deliver the bytes of standard characteristics.

import { said } from '../../../shared/said.ts';
import type { ProcessMs } from '../../../shared/units.ts';
import { percent, processMs } from '../../../shared/units.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type {
  SensorListener,
  SensorPacket,
  SensorSource,
  SensorStatus,
} from '../../base/ports/sensor-source.ts';
import { SimulatedAthlete } from './athlete.ts';
import { encodeOximeterReading, encodeStrapReading } from './encode-readings.ts';
import type { ScenarioAthlete } from './scenario.ts';
import { SeededRandom } from './seeded-random.ts';

export interface SimulatedSourceOptions {
  /** At another speed, give a `scaledClock`: this source knows no scale of its own. */
  readonly clock: Clock;
  readonly athletes: readonly ScenarioAthlete[];
}

const tickEveryMs = 100;
const batteryEveryMs = 60_000;
const linkLossLengthMs = [6_000, 25_000] as const;
/** After a pause of the process longer than this (a laptop's sleep) the athletes go on from now, not from then. */
const longestCatchUpMs = 600_000;

interface Worn {
  readonly sensorId: string;
  readonly name: string;
  readonly kind: 'heartRate' | 'oximeter';
  link: 'connected' | 'lost' | 'off';
  batteryPercent: number;
  batteryDueMs: number;
  lossFromMs: number;
  lossUntilMs: number;
}

interface Lane {
  readonly scenario: ScenarioAthlete;
  readonly athlete: SimulatedAthlete;
  readonly worn: readonly Worn[];
  readonly random: SeededRandom;
}

/**
 * Data flow from `sessionStarted` to `sessionEnded`; outside a session the sensors are connected and silent, save for
 * one battery packet each. Each session begins the scripts anew, so the same seed gives the same bytes at the same
 * session times. `receivedAtMs` is the moment the reading was made on the given clock, never later than `nowMs`.
 */
export class SimulatedSource implements SensorSource {
  readonly source = 'simulated' as const;
  readonly #clock: Clock;
  readonly #scenario: readonly ScenarioAthlete[];
  #listener: SensorListener | undefined;
  #lanes: Lane[] = [];
  #startedAtMs: ProcessMs | undefined;
  #stopTicking: (() => void) | undefined;

  constructor(options: SimulatedSourceOptions) {
    this.#clock = options.clock;
    this.#scenario = options.athletes;
  }

  async start(listener: SensorListener): Promise<void> {
    this.#listener = listener;
    this.#lanes = this.#scenario.map((scenario) => makeLane(scenario));
    for (const lane of this.#lanes) {
      for (const worn of lane.worn) {
        listener.sensorChanged(statusOf(worn));
        this.#sendReadOnce(worn, this.#clock.nowMs());
      }
    }
    this.#stopTicking = this.#clock.every(tickEveryMs, () => this.deliverUntil(this.#clock.nowMs()));
  }

  async stop(): Promise<void> {
    this.#stopTicking?.();
    this.#stopTicking = undefined;
    this.#startedAtMs = undefined;
    const listener = this.#listener;
    this.#listener = undefined;
    for (const lane of this.#lanes) {
      for (const worn of lane.worn) {
        worn.link = 'off';
        listener?.sensorChanged(statusOf(worn));
      }
    }
  }

  sessionStarted(startedAtMs: ProcessMs): void {
    if (this.#listener === undefined) return;
    this.#lanes = this.#scenario.map((scenario) => makeLane(scenario));
    this.#startedAtMs = startedAtMs;
    for (const lane of this.#lanes) {
      for (const worn of lane.worn) {
        this.#listener.sensorChanged(statusOf(worn));
        this.#sendReadOnce(worn, startedAtMs);
      }
    }
  }

  sessionEnded(): void {
    this.#startedAtMs = undefined;
  }

  /** Takes an athlete out of the script: the last breath begins, or the hold ends, now. */
  steer(athleteId: string, what: 'beginHold' | 'endHold'): void {
    const lane = this.#lanes.find((candidate) => candidate.scenario.athleteId === athleteId);
    if (lane === undefined || this.#startedAtMs === undefined) return;
    this.deliverUntil(this.#clock.nowMs());
    if (what === 'beginHold') lane.athlete.beginHold();
    else lane.athlete.endHold();
  }

  deliverUntil(nowMs: ProcessMs): void {
    const startedAtMs = this.#startedAtMs;
    const listener = this.#listener;
    if (startedAtMs === undefined || listener === undefined) return;
    const untilMs = nowMs - startedAtMs;
    // Second by second, so that athletes stay in step with each other whatever the tick was.
    let fromMs = Math.min(...this.#lanes.map((lane) => lane.athlete.nowMs));
    if (untilMs - fromMs > longestCatchUpMs) {
      for (const lane of this.#lanes) lane.athlete.advanceTo(untilMs - 1_000);
      fromMs = untilMs - 1_000;
    }
    while (fromMs < untilMs && this.#startedAtMs === startedAtMs) {
      // Links change at the beginning of a second, before its packets.
      for (const lane of this.#lanes) {
        for (const worn of lane.worn) this.#moveLink(lane, worn, fromMs, processMs(startedAtMs + fromMs));
      }
      fromMs = Math.min(untilMs, fromMs + 1_000);
      const packets: SensorPacket[] = [];
      for (const lane of this.#lanes) this.#advanceLane(lane, fromMs, startedAtMs, packets);
      packets.sort((a, b) => a.receivedAtMs - b.receivedAtMs);
      for (const packet of packets) {
        // The listener may have ended the session or stopped this source over a packet.
        if (this.#startedAtMs !== startedAtMs) return;
        listener.packet(packet);
      }
    }
  }

  #advanceLane(lane: Lane, untilMs: number, startedAtMs: number, packets: SensorPacket[]): void {
    const { beats: _beats, heartRate, oximetry } = lane.athlete.advanceTo(untilMs);
    for (const worn of lane.worn) {
      const add = (characteristic: string, bytes: Uint8Array, atMs: number): void => {
        packets.push({
          sensorId: worn.sensorId,
          characteristic,
          bytes,
          receivedAtMs: processMs(startedAtMs + atMs),
        });
      };
      if (worn.link !== 'connected') continue;
      if (untilMs >= worn.batteryDueMs) {
        worn.batteryDueMs += batteryEveryMs;
        worn.batteryPercent = Math.max(1, worn.batteryPercent - (lane.random.chance(0.08) ? 1 : 0));
        add('2a19', Uint8Array.of(worn.batteryPercent), untilMs);
      }
      if (worn.kind === 'heartRate') {
        for (const reading of heartRate) add('2a37', encodeStrapReading(reading), reading.atMs);
      } else {
        for (const reading of oximetry) add('2a5f', encodeOximeterReading(reading), reading.atMs);
      }
    }
  }

  /** Loses and finds the link of one sensor at random times. */
  #moveLink(lane: Lane, worn: Worn, nowMs: number, atMs: ProcessMs): void {
    if (worn.link === 'connected' && nowMs >= worn.lossFromMs) {
      worn.link = 'lost';
      worn.lossUntilMs = nowMs + lane.random.between(...linkLossLengthMs);
      this.#listener?.sensorChanged(statusOf(worn), atMs);
    } else if (worn.link === 'lost' && nowMs >= worn.lossUntilMs) {
      worn.link = 'connected';
      worn.lossFromMs = nextLossMs(lane.random, nowMs, lane.scenario.linkLossesPerHour);
      this.#listener?.sensorChanged(statusOf(worn), atMs);
    }
  }

  /** What a hub reads once after connecting: battery and, for the oximeter, its features. */
  #sendReadOnce(worn: Worn, receivedAtMs: ProcessMs): void {
    const send = (characteristic: string, bytes: Uint8Array): void =>
      this.#listener?.packet({ sensorId: worn.sensorId, characteristic, bytes, receivedAtMs });
    send('2a19', Uint8Array.of(worn.batteryPercent));
    // PLX Features: both status fields and the pulse amplitude index supported; then the bits that can be set.
    if (worn.kind === 'oximeter') send('2a60', Uint8Array.of(0x43, 0x00, 0x20, 0x00, 0x30, 0x08, 0x00));
    // Body sensor location: chest.
    else send('2a38', Uint8Array.of(1));
  }
}

function makeLane(scenario: ScenarioAthlete): Lane {
  const random = new SeededRandom(scenario.seed, 'links');
  const wear = (kind: Worn['kind'], sensorId: string, name: string): Worn => ({
    sensorId,
    name,
    kind,
    link: 'connected',
    batteryPercent: Math.round(random.between(55, 99)),
    batteryDueMs: batteryEveryMs,
    lossFromMs: nextLossMs(random, 0, scenario.linkLossesPerHour),
    lossUntilMs: 0,
  });
  return {
    scenario,
    random,
    athlete: new SimulatedAthlete({
      seed: scenario.seed,
      person: scenario.person,
      script: scenario.script,
      faults: scenario.faults,
      loop: true,
      keepTruth: false,
    }),
    worn: [
      wear('heartRate', scenario.strapSensorId, scenario.strapName),
      wear('oximeter', scenario.oximeterSensorId, scenario.oximeterName),
    ],
  };
}

const nextLossMs = (random: SeededRandom, afterMs: number, perHour: number): number =>
  perHour === 0 ? Number.POSITIVE_INFINITY : afterMs - (Math.log(1 - random.next()) * 3_600_000) / perHour;

const statusOf = (worn: Worn): SensorStatus => ({
  sensorId: worn.sensorId,
  name: worn.name,
  kinds: [worn.kind],
  source: 'simulated',
  link: worn.link,
  detail: worn.link === 'lost' ? said('sensor.simulatedLoss') : null,
  batteryPercent: percent(worn.batteryPercent),
  rssiDbm: null,
});
