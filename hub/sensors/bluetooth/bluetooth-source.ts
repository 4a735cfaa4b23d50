// Bluetooth as a source of packets: runs the link logic on one or more radios and carries out what it asks for.
// Holds the only timer of the link logic; every decision is in `link-machine.ts`.

import { type Said, said } from '../../../shared/said.ts';
import type { PairingAnswer } from '../../../shared/views.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type {
  RadioStatus,
  SameSensor,
  SensorListener,
  SensorPacket,
  SensorSource,
  SensorStatus,
} from '../../base/ports/sensor-source.ts';
import { reduceLinks } from './link-machine.ts';
import { type LinkPolicy, linkPolicy } from './link-policy.ts';
import { profileFor, streamOfPacket } from './link-questions.ts';
import {
  initialLinkState,
  isQuiet,
  type LinkConfig,
  type LinkEvent,
  type LinkState,
  type ProfileLink,
  type RememberedSensor,
  type SensorCounts,
  sensorIdOf,
} from './link-state.ts';
import type { DiscoveredCharacteristic, Radio, RadioHealth } from './radio.ts';
import { linksOf } from './radio-choice.ts';
import { platformOf, radioNotice } from './radio-notice.ts';
import type { SensorMemory } from './sensor-memory.ts';
import { rememberedOf } from './sensor-memory.ts';
import { sensorStatus } from './sensor-status.ts';

export interface BluetoothRadio {
  readonly radioId: string;
  readonly radio: Radio;
  /** 'kernel' for the computer's own adapter, 'bluez' for it through the system's service, else the address in the settings. */
  readonly transport: string;
  /** What a person knows it by; the transport where it is left out. */
  readonly name?: string;
  /** Of a radio on another computer: the device that it joined as. */
  readonly deviceId?: string;
  /** Found, not asked for: as long as another works, what is wrong with it is nobody's worry. */
  readonly isExtra?: boolean;
}

export interface BluetoothSourceOptions {
  readonly clock: Clock;
  readonly log: (line: string) => void;
  readonly radios: readonly BluetoothRadio[];
  /** Sensors assigned in earlier sessions: connected by themselves as soon as they are heard. */
  readonly remembered: readonly RememberedSensor[];
  /** Where names, serial numbers and addresses outlive the process; nowhere when left out. */
  readonly memory?: SensorMemory;
  readonly profiles?: readonly ProfileLink[];
  /** Every connectable sensor and every notifying characteristic, for capturing raw bytes. */
  readonly takeEverything?: boolean;
  readonly policy?: LinkPolicy;
  readonly platform?: string;
  /** Goes on while the source does, as keeping up with adapters; answers with what ends it. */
  readonly beside?: (source: BluetoothSource) => () => void;
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
  readonly #radios: BluetoothRadio[];
  #state: LinkState;
  #remembered = '';
  #listener: SensorListener | null = null;
  #sent = new Map<string, string>();
  #statusAtMs = 0;
  #assigned: ReadonlySet<string>;
  /** Hears what the examined sensor sends, in place of the hub. */
  #examiner: Examiner | null = null;
  /** The notices told last, as text to compare. */
  #told = '';
  #stopTicking: (() => void) | null = null;
  #stopBeside: (() => void) | undefined;
  #whenQuiet: (() => void) | null = null;

  constructor(options: BluetoothSourceOptions) {
    this.#options = options;
    this.#config = {
      policy: options.policy ?? linkPolicy,
      profiles: options.profiles ?? [],
      takeEverything: options.takeEverything ?? false,
    };
    this.#radios = [...options.radios];
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
    for (const radio of this.#radios) this.#startRadio(radio);
    this.#stopBeside = this.#options.beside?.(this);
  }

  /** An adapter was plugged in, or a radio elsewhere has joined: it takes its part from now on. */
  addRadio(added: BluetoothRadio): void {
    this.#radios.push(added);
    const isElsewhere = added.deviceId !== undefined;
    const { radioId } = added;
    this.#take({ type: 'radioAdded', radioId, isElsewhere, atMs: this.#options.clock.nowMs() });
    if (this.#listener !== null) this.#startRadio(added);
  }

  /** It is gone for good: its sensors go to whichever other radio hears them. */
  async removeRadio(radioId: string): Promise<void> {
    const index = this.#radios.findIndex((radio) => radio.radioId === radioId);
    if (index === -1) return;
    const [removed] = this.#radios.splice(index, 1);
    this.#take({ type: 'radioRemoved', radioId, atMs: this.#options.clock.nowMs() });
    await removed!.radio.stop();
  }

  #startRadio({ radioId, radio }: BluetoothRadio): void {
    radio.start({
      event: (event) => this.#take({ type: 'radio', radioId, event, atMs: this.#options.clock.nowMs() }),
    });
  }

  setSameSensor(sensorId: string, as: string | null): void {
    this.#take({ type: 'same', sensorId, as, atMs: this.#options.clock.nowMs() });
  }

  get sameSensors(): readonly SameSensor[] {
    return [...this.#state.aliases].map(([address, as]) => ({ sensorId: sensorIdOf(address), as }));
  }

  get radios(): readonly RadioStatus[] {
    return this.#radios.map(({ radioId, radio, name, transport, deviceId = null }) => {
      const record = this.#state.radios.get(radioId)!;
      const links = linksOf(this.#state.sensors.values(), radioId);
      return {
        radioId,
        deviceId,
        name: name ?? transport,
        state:
          record.awaySinceMs !== null
            ? 'away'
            : record.on
              ? 'on'
              : record.problem === null
                ? 'starting'
                : 'off',
        problem: this.#problemOf(radioId, transport),
        sensorIds: [...this.#state.sensors.values()].flatMap(({ sensorId, phase }) =>
          'link' in phase && phase.link.radioId === radioId ? [sensorId] : [],
        ),
        freePlaces: record.limit === null ? null : Math.max(0, record.limit.links - links),
        clockUncertaintyMs: radio.health.clockUncertaintyMs,
        packetsLost: radio.health.packetsLost ?? 0,
      };
    });
  }

  #problemOf(radioId: string, transport: string): Said | null {
    const problem = this.#state.radios.get(radioId)?.problem ?? null;
    if (problem === null) return null;
    const platform = platformOf(this.#options.platform ?? process.platform);
    return radioNotice(problem.problem, platform, transport, problem.reason);
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
    return this.#radios.map(({ radioId, radio }) => ({ radioId, ...radio.health }));
  }

  async stop(): Promise<void> {
    const { clock } = this.#options;
    this.#stopBeside?.();
    this.#remember();
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
    await Promise.all(this.#radios.map(({ radio }) => radio.stop()));
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
        const { sensorId, characteristic, bytes, atMs, isLate } = effect;
        const packet = { sensorId, characteristic, bytes, receivedAtMs: atMs, ...(isLate && { isLate }) };
        if (this.#config.examined?.sensorId === sensorId) this.#examiner?.(packet);
        else {
          const stream = streamOfPacket(this.#config, state.sensors.get(sensorId), characteristic);
          this.#listener?.packet({ ...packet, characteristic: stream });
        }
        continue;
      }
      const target = this.#radios.find(({ radioId }) => radioId === effect.radioId);
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
    if (event.type === 'same' || event.type === 'wanted') this.#remember();
    if (this.#whenQuiet !== null && isQuiet(state)) this.#whenQuiet();
  }

  #sendStatuses(): void {
    this.#statusAtMs = this.#options.clock.nowMs();
    this.#remember();
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
    const told = sensorStatus(sensor, this.#config.policy, this.#options.clock.nowMs());
    const linkedBy = 'link' in sensor.phase ? sensor.phase.link.radioId : undefined;
    const radio = this.#radios.find(({ radioId }) => radioId === linkedBy);
    return radio?.deviceId === undefined ? told : { ...told, via: radio.name ?? radio.transport };
  }

  /** Keeps only what differs from what was kept last. */
  #remember(): void {
    const { memory } = this.#options;
    if (memory === undefined) return;
    const remembered = rememberedOf(this.#state);
    const text = JSON.stringify(remembered);
    if (text === this.#remembered) return;
    this.#remembered = text;
    memory.keep(remembered);
  }

  #sendNotice(): void {
    const notices = new Map<string, Said>();
    const works = [...this.#state.radios.values()].some(({ on }) => on);
    for (const { radioId, transport, name, deviceId, isExtra = false } of this.#radios) {
      const radio = name ?? transport;
      const problem = isExtra && works ? null : this.#problemOf(radioId, transport);
      const notice =
        deviceId === undefined
          ? problem
          : this.#state.radios.get(radioId)?.awaySinceMs != null
            ? said('radio.away', { radio })
            : problem === null
              ? null
              : said('radio.elsewhere', { radio, problem });
      if (notice !== null) notices.set(JSON.stringify(notice), notice);
    }
    const told = [...notices.keys()].join();
    if (told === this.#told) return;
    this.#told = told;
    this.#listener?.sourceNotices([...notices.values()]);
  }
}
