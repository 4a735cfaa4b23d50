// Bluetooth as a source of packets: runs the link logic on one or more radios and carries out what it asks for.
// Holds the only timer of the link logic; every decision is in `link-machine.ts`.

import type { Said } from '../../../shared/said.ts';
import type { PairingAnswer } from '../../../shared/views.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type {
  SensorListener,
  SensorPacket,
  SensorSource,
  SensorStatus,
} from '../../base/ports/sensor-source.ts';
import { reduceLinks } from './link-machine.ts';
import { type LinkPolicy, linkPolicy } from './link-policy.ts';
import { profileFor } from './link-questions.ts';
import {
  initialLinkState,
  isQuiet,
  type LinkConfig,
  type LinkEvent,
  type LinkState,
  type ProfileLink,
  type RememberedSensor,
  type SensorCounts,
} from './link-state.ts';
import type { DiscoveredCharacteristic, Radio, RadioHealth } from './radio.ts';
import { platformOf, radioNotice } from './radio-notice.ts';
import { sensorStatus } from './sensor-status.ts';

export interface BluetoothRadio {
  readonly radioId: string;
  readonly radio: Radio;
  /** 'kernel' for the computer's own adapter, 'bluez' for it through the system's service, else the address in the settings. */
  readonly transport: string;
}

export interface BluetoothSourceOptions {
  readonly clock: Clock;
  readonly log: (line: string) => void;
  readonly radios: readonly BluetoothRadio[];
  /** Sensors assigned in earlier sessions: connected by themselves as soon as they are heard. */
  readonly remembered: readonly RememberedSensor[];
  readonly profiles?: readonly ProfileLink[];
  /** Every connectable sensor and every notifying characteristic, for capturing raw bytes. */
  readonly takeEverything?: boolean;
  readonly policy?: LinkPolicy;
  readonly platform?: string;
}

type Examiner = (packet: SensorPacket) => void;

const tickEveryMs = 100;
const statusEveryMs = 1_000;
/** For links to close when stopping, before the radios are stopped regardless. */
const closeLimitMs = 2_500;

export class BluetoothSource implements SensorSource {
  readonly source = 'bluetooth' as const;
  readonly #options: BluetoothSourceOptions;
  #config: LinkConfig;
  #state: LinkState;
  #listener: SensorListener | null = null;
  #sent = new Map<string, string>();
  #statusAtMs = 0;
  #assigned: ReadonlySet<string>;
  /** Hears what the examined sensor sends, in place of the hub. */
  #examiner: Examiner | null = null;
  /** The notices told last, as text to compare. */
  #told = '';
  #stopTicking: (() => void) | null = null;
  #whenQuiet: (() => void) | null = null;

  constructor(options: BluetoothSourceOptions) {
    this.#options = options;
    this.#config = {
      policy: options.policy ?? linkPolicy,
      profiles: options.profiles ?? [],
      takeEverything: options.takeEverything ?? false,
    };
    this.#assigned = new Set(options.remembered.map(({ sensorId }) => sensorId));
    this.#state = initialLinkState(
      options.radios.map((radio) => radio.radioId),
      options.remembered,
    );
  }

  async start(listener: SensorListener): Promise<void> {
    this.#listener = listener;
    this.#stopTicking = this.#options.clock.every(tickEveryMs, () => this.#tick());
    this.#sendStatuses();
    for (const { radioId, radio } of this.#options.radios) {
      radio.start({
        event: (event) => this.#take({ type: 'radio', radioId, event, atMs: this.#options.clock.nowMs() }),
      });
    }
  }

  /** The sensors to connect to, all others being let go: call it whenever an assignment changes. */
  setWantedSensors(sensorIds: ReadonlySet<string>): void {
    this.#assigned = new Set(sensorIds);
    this.#want(this.#assigned);
  }

  #want(assigned: ReadonlySet<string>): void {
    const { examined } = this.#config;
    const sensorIds = new Set(examined ? [...assigned, examined.sensorId] : assigned);
    this.#take({ type: 'wanted', sensorIds, atMs: this.#options.clock.nowMs() });
  }

  /** From now on sensors are recognised, started and kept by these. Whichever that changes is linked anew. */
  useProfiles(profiles: readonly ProfileLink[]): void {
    const before = this.#config;
    const after = { ...before, profiles };
    const changed = [...this.#state.sensors.values()].filter(
      (sensor) => JSON.stringify(profileFor(before, sensor)) !== JSON.stringify(profileFor(after, sensor)),
    );
    // Let go by the profile that it was started by.
    this.#want(new Set([...this.#assigned].filter((id) => !changed.some(({ sensorId }) => sensorId === id))));
    this.#config = after;
    this.#want(this.#assigned);
  }

  /** Keeps an ear open for sensors that nothing is known of; `heard` has them. */
  lookAround(looksAround: boolean): void {
    if (looksAround === (this.#config.looksAround ?? false)) return;
    this.#config = { ...this.#config, looksAround };
    this.#want(this.#assigned);
  }

  /** All that is heard now, also what nothing is known of, which the listener is not told. */
  get heard(): readonly SensorStatus[] {
    return [...this.#state.sensors.values()].map((sensor) => this.#statusOf(sensor.sensorId));
  }

  /**
   * Links to one sensor that nobody wears and takes everything it sends, started by a profile on trial where there is one. Its
   * packets go to `examiner` alone. Ends with null, and when another one is examined.
   */
  examine(
    examined: { readonly sensorId: string; readonly profile: ProfileLink | null } | null,
    examiner: Examiner,
  ): void {
    const before = this.#config.examined;
    const withoutIt = new Set([...this.#assigned].filter((id) => id !== before?.sensorId));
    this.#take({ type: 'wanted', sensorIds: withoutIt, atMs: this.#options.clock.nowMs() });
    this.#config = { ...this.#config, examined };
    this.#examiner = examined === null ? null : examiner;
    this.#want(this.#assigned);
  }

  answerPairing(sensorId: string, requestId: string, answer: PairingAnswer): void {
    this.#take({ type: 'answerPairing', sensorId, requestId, answer, atMs: this.#options.clock.nowMs() });
  }

  forgetBond(sensorId: string): void {
    this.#take({ type: 'forgetBond', sensorId, atMs: this.#options.clock.nowMs() });
  }

  /** What was counted, for the state of health and for tests. */
  get counts(): {
    readonly staleEvents: number;
    readonly sensors: ReadonlyMap<string, SensorCounts>;
  } {
    return {
      staleEvents: this.#state.staleEvents,
      sensors: new Map([...this.#state.sensors].map(([sensorId, sensor]) => [sensorId, sensor.counts])),
    };
  }

  /** What a linked sensor has, as far as it has been listed; empty without a link. */
  characteristicsOf(sensorId: string): readonly DiscoveredCharacteristic[] {
    const phase = this.#state.sensors.get(sensorId)?.phase;
    return phase?.phase === 'ready' || phase?.phase === 'subscribing' ? phase.characteristics : [];
  }

  /** Per radio, in the order of the settings: how well arrival times are known, starts and faults so far. */
  get health(): readonly (RadioHealth & { readonly radioId: string })[] {
    return this.#options.radios.map(({ radioId, radio }) => ({ radioId, ...radio.health }));
  }

  async stop(): Promise<void> {
    const { clock, radios } = this.#options;
    this.#take({ type: 'stop', atMs: clock.nowMs() });
    if (!isQuiet(this.#state)) {
      await new Promise<void>((resolve) => {
        const cancel = clock.after(closeLimitMs, resolve);
        this.#whenQuiet = () => {
          cancel();
          resolve();
        };
      });
    }
    this.#listener = null;
    this.#stopTicking?.();
    await Promise.all(radios.map(({ radio }) => radio.stop()));
  }

  #tick(): void {
    const nowMs = this.#options.clock.nowMs();
    this.#take({ type: 'tick', atMs: nowMs });
    if (nowMs - this.#statusAtMs >= statusEveryMs) this.#sendStatuses();
  }

  #take(event: LinkEvent): void {
    const before = this.#state;
    const { state, effects } = reduceLinks(this.#config, before, event);
    this.#state = state;
    for (const effect of effects) {
      if (effect.type === 'packet') {
        const { sensorId, characteristic, bytes, atMs } = effect;
        const packet = { sensorId, characteristic, bytes, receivedAtMs: atMs };
        if (this.#config.examined?.sensorId === sensorId) this.#examiner?.(packet);
        else this.#listener?.packet(packet);
        continue;
      }
      const target = this.#options.radios.find(({ radioId }) => radioId === effect.radioId);
      if (effect.type === 'command') target?.radio.send(effect.command);
      else target?.radio.restart(effect.reason);
    }
    for (const [sensorId, sensor] of state.sensors) {
      const known = before.sensors.get(sensorId);
      const isNews =
        known?.phase !== sensor.phase ||
        known.pairing !== sensor.pairing ||
        known.isBonded !== sensor.isBonded;
      if (isNews) this.#sendStatus(sensorId);
    }
    for (const sensorId of before.sensors.keys()) {
      if (!state.sensors.has(sensorId)) {
        this.#sent.delete(sensorId);
        this.#listener?.sensorGone?.(sensorId);
      }
    }
    // Tells only what differs from what was told last.
    this.#sendNotice();
    if (this.#whenQuiet !== null && isQuiet(state)) this.#whenQuiet();
  }

  #sendStatuses(): void {
    this.#statusAtMs = this.#options.clock.nowMs();
    for (const sensorId of this.#state.sensors.keys()) this.#sendStatus(sensorId);
  }

  #sendStatus(sensorId: string): void {
    const { kinds, wanted } = this.#state.sensors.get(sensorId)!;
    // What nobody knows to be a sensor is for whoever looks around, not for everybody's list.
    if (kinds.length === 0 && !wanted && !this.#config.takeEverything) return;
    const status = this.#statusOf(sensorId);
    const text = JSON.stringify(status);
    if (this.#sent.get(sensorId) === text) return;
    this.#sent.set(sensorId, text);
    this.#listener?.sensorChanged(status);
  }

  #statusOf(sensorId: string): SensorStatus {
    const sensor = this.#state.sensors.get(sensorId)!;
    return sensorStatus(sensor, this.#config.policy, this.#options.clock.nowMs());
  }

  #sendNotice(): void {
    const platform = platformOf(this.#options.platform ?? process.platform);
    const notices = new Map<string, Said>();
    for (const { radioId, transport } of this.#options.radios) {
      const problem = this.#state.radios.get(radioId)?.problem;
      if (problem === undefined || problem === null) continue;
      const notice = radioNotice(problem.problem, platform, transport, problem.reason);
      notices.set(JSON.stringify(notice), notice);
    }
    const told = [...notices.keys()].join();
    if (told === this.#told) return;
    this.#told = told;
    this.#listener?.sourceNotices([...notices.values()]);
  }
}
