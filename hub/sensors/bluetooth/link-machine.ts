// The link logic as a pure state machine: which sensor to connect to and when, each step against its timeout, the
// watchdog, reconnecting. Events go in, a new state and effects come out; time comes with the events.

import { type Said, said } from '../../../shared/said.ts';
import type { ProcessMs } from '../../../shared/units.ts';
import type { LinkPolicy } from './link-policy.ts';
import {
  asTaken,
  attemptMs,
  canNotify,
  cleanName,
  commandOf,
  dueKeepAlive,
  failuresOf,
  isTakenWhole,
  laterChores,
  lateServices,
  patienceWith,
  placeOf,
  probeReads,
  profileFor,
  readable,
  readableText,
  standardStreams,
  withoutSpotChecks,
} from './link-questions.ts';
import {
  type Chore,
  type Hearing,
  type Link,
  type LinkConfig,
  type LinkEffect,
  type LinkEvent,
  type LinkPhase,
  type LinkState,
  newRadio,
  ownAbilities,
  type RadioRecord,
  type SensorCounts,
  type SensorKind,
  type SensorRecord,
  type SensorTrouble,
  type SetupStep,
  searching,
  sensorIdOf,
  unheardSensor,
} from './link-state.ts';
import type { DiscoveredCharacteristic, RadioCommand, RadioEvent, ScanInterest } from './radio.ts';
import { chooseRadio, linksOf } from './radio-choice.ts';
import { stepPace, unknownPace } from './sensor-pace.ts';
import { assigned } from './uuid.ts';

/** What a radio should report, given who is wanted. */
export function scanInterest(config: LinkConfig, state: LinkState): ScanInterest {
  if (config.takeEverything || config.looksAround)
    return { services: [], namePrefixes: [], peripheralIds: [] };
  return {
    services: [
      assigned.heartRate,
      assigned.pulseOximeter,
      ...config.profiles.flatMap((profile) => profile.matchServices),
    ],
    namePrefixes: config.profiles.flatMap((profile) =>
      profile.matchNamePrefix === null ? [] : [profile.matchNamePrefix],
    ),
    peripheralIds: [
      ...[...state.wanted].map((sensorId) => sensorId.replace(/^bt:/, '')),
      ...[...state.aliases].flatMap(([address, sensorId]) => (state.wanted.has(sensorId) ? [address] : [])),
    ],
  };
}

/** One step of the machine. Never throws; events that make no sense are counted and ignored. */
export function reduceLinks(
  config: LinkConfig,
  state: LinkState,
  event: LinkEvent,
): { readonly state: LinkState; readonly effects: readonly LinkEffect[] } {
  const draft = new Draft(config, state, event.atMs);
  switch (event.type) {
    case 'radio':
      draft.onRadio(event.radioId, event.event);
      break;
    case 'wanted':
      draft.onWanted(event.sensorIds);
      break;
    case 'tick':
      draft.onTick();
      break;
    case 'radioAdded':
      draft.onRadioAdded(event.radioId, event.isElsewhere);
      break;
    case 'radioRemoved':
      draft.onRadioRemoved(event.radioId);
      break;
    case 'same':
      draft.onSame(event.sensorId, event.as);
      break;
    case 'stop':
      draft.onStop();
      break;
    case 'answerPairing':
      draft.onAnswerPairing(event);
      break;
    case 'forgetBond':
      draft.onForgetBond(event.sensorId);
      break;
  }
  draft.settle();
  return draft.finish();
}

/** Mutable only inside one call of `reduceLinks`. */
class Draft {
  readonly #config: LinkConfig;
  readonly #policy: LinkPolicy;
  readonly #nowMs: ProcessMs;
  readonly #radios: Map<string, RadioRecord>;
  readonly #sensors: Map<string, SensorRecord>;
  readonly #effects: LinkEffect[] = [];
  readonly #aliases: Map<string, string>;
  readonly #bonds: Set<string>;
  #wanted: ReadonlySet<string>;
  #linksMade: number;
  #stopping: boolean;
  #staleEvents: number;

  constructor(config: LinkConfig, state: LinkState, nowMs: ProcessMs) {
    this.#config = config;
    this.#policy = config.policy;
    this.#nowMs = nowMs;
    this.#radios = new Map(state.radios);
    this.#sensors = new Map(state.sensors);
    this.#aliases = new Map(state.aliases);
    this.#bonds = new Set(state.bonds);
    this.#wanted = state.wanted;
    this.#linksMade = state.linksMade;
    this.#stopping = state.stopping;
    this.#staleEvents = state.staleEvents;
  }

  finish(): { state: LinkState; effects: readonly LinkEffect[] } {
    return {
      state: {
        radios: this.#radios,
        sensors: this.#sensors,
        wanted: this.#wanted,
        aliases: this.#aliases,
        bonds: this.#bonds,
        linksMade: this.#linksMade,
        stopping: this.#stopping,
        staleEvents: this.#staleEvents,
      },
      effects: this.#effects,
    };
  }

  onWanted(sensorIds: ReadonlySet<string>): void {
    this.#wanted = sensorIds;
    for (const sensorId of sensorIds) {
      if (!this.#sensors.has(sensorId)) this.#sensors.set(sensorId, this.#unheardSensor(sensorId));
    }
    for (const sensor of this.#sensors.values()) {
      const wanted = sensorIds.has(sensor.sensorId);
      if (wanted === sensor.wanted) continue;
      this.#update(sensor.sensorId, { wanted });
      if (wanted && sensor.phase.phase === 'idle') {
        this.#setPhase(sensor.sensorId, searching(this.#nowMs, 0, false, null));
      } else if (!wanted) {
        this.#letGo(sensor.sensorId);
      }
    }
    for (const radio of this.#radios.values()) if (radio.on) this.#commandInterest(radio.radioId);
  }

  onRadioAdded(radioId: string, isElsewhere: boolean): void {
    if (!this.#radios.has(radioId)) this.#radios.set(radioId, newRadio(radioId, isElsewhere));
  }

  onRadioRemoved(radioId: string): void {
    this.#dropLinksOf(radioId, said('link.adapterGone'));
    this.#radios.delete(radioId);
  }

  /** A person says that what is heard under one address is a sensor that is known already, or takes it back. */
  onSame(sensorId: string, as: string | null): void {
    const address = this.#sensors.get(sensorId)?.peripheralId ?? sensorId.replace(/^bt:/, '');
    const former = this.#aliases.get(address);
    if (as !== null && former === as) return;
    // Said of another before: first that is taken back.
    if (as !== null && former !== undefined) this.onSame(sensorId, null);
    const known = as === null ? former : as;
    const sensor = known === undefined ? undefined : this.#sensors.get(known);
    if (sensor === undefined || sensor.sensorId === sensorId) return;
    if (as === null) this.#aliases.delete(address);
    else this.#knowAs(address, sensor.sensorId);
    // Whichever address it is linked under now, it is to be met anew under the one that is its own.
    if ('link' in sensor.phase && sensor.phase.phase !== 'closing') this.#letGo(sensor.sensorId);
    const other = this.#sensors.get(sensorId);
    this.#update(sensor.sensorId, {
      peripheralId: as === null ? this.#newestAddressOf(sensor.sensorId) : address,
      heard: as === null ? [] : (other?.heard ?? []),
      advertising: (as === null ? undefined : other?.advertising) ?? unknownPace,
      trial: null,
    });
    if (as !== null && other !== undefined) {
      this.#letGo(sensorId);
      this.#sensors.delete(sensorId);
    }
    for (const radio of this.#radios.values()) if (radio.on) this.#commandInterest(radio.radioId);
  }

  /** One more address of a sensor; the oldest of many is forgotten. */
  #knowAs(address: string, sensorId: string): void {
    this.#aliases.delete(address);
    this.#aliases.set(address, sensorId);
    const theirs = [...this.#aliases].filter(([, known]) => known === sensorId);
    for (const [old] of theirs.slice(0, -this.#policy.mostAddresses)) this.#aliases.delete(old);
  }

  #newestAddressOf(sensorId: string): string {
    let newest = sensorId.replace(/^bt:/, '');
    for (const [address, known] of this.#aliases) if (known === sensorId) newest = address;
    return newest;
  }

  onStop(): void {
    this.#stopping = true;
    for (const sensorId of [...this.#sensors.keys()]) this.#letGo(sensorId);
  }

  onTick(): void {
    const nowMs = this.#nowMs;
    for (const radio of [...this.#radios.values()]) {
      const connecting = radio.connecting;
      if (connecting === null || nowMs < connecting.deadlineMs || radio.awaySinceMs !== null) continue;
      if (this.#sensors.get(connecting.sensorId)?.pairing) continue;
      if (connecting.cancelling) {
        this.#restartRadio(radio.radioId, said('link.cancelNotTaken'));
      } else {
        this.#cancel(radio);
      }
    }
    for (const sensor of [...this.#sensors.values()]) this.#tickSensor(sensor);
    this.#forget();
  }

  #tickSensor(sensor: SensorRecord): void {
    const phase = sensor.phase;
    const nowMs = this.#nowMs;
    if (sensor.pairing !== null && phase.phase !== 'closing') {
      // A person's answer is waited for, and whatever was asked of the sensor with it.
      if (nowMs >= sensor.pairing.expiresAtMs + this.#policy.pairingOverdueMs)
        this.#endPairing(sensor.sensorId);
      return;
    }
    if ('link' in phase && this.#radios.get(phase.link.radioId)?.awaySinceMs != null) {
      this.#watchFromAfar(sensor);
    } else if (phase.phase === 'discovering' && nowMs >= phase.deadlineMs) {
      this.#close(sensor, phase.link, said('link.servicesLate'), phase.link.failures + 1);
    } else if (phase.phase === 'subscribing' && nowMs >= phase.deadlineMs) {
      this.#passOver(sensor, phase, 'noAnswer', said('link.noAnswerInTime'));
    } else if (phase.phase === 'closing' && nowMs >= phase.deadlineMs) {
      this.#restartRadio(phase.link.radioId, said('link.closeNotConfirmed'));
    } else if (phase.phase === 'ready') {
      this.#watch(sensor, phase);
    }
  }

  /** The watchdog of one working link. */
  #watch(sensor: SensorRecord, phase: Extract<LinkPhase, { phase: 'ready' }>): void {
    const nowMs = this.#nowMs;
    const policy = this.#policy;
    const packetAtMs = Math.max(sensor.lastPacketAtMs, phase.readySinceMs);
    const heardAtMs = Math.max(packetAtMs, phase.lastAnswerAtMs);
    const patienceMs = patienceWith(sensor, policy);
    if (phase.asking !== null && nowMs >= phase.asking.deadlineMs && phase.answering) {
      const isSilent = nowMs - heardAtMs >= patienceMs + policy.probeTimeoutMs;
      // Where readings still come, the question was swallowed. Nothing depends on it, and nothing more can be asked.
      this.#setPhase(
        sensor.sensorId,
        phase.asking.probe || isSilent
          ? { ...phase, answering: false }
          : { ...phase, asking: null, chores: [], isDeaf: true },
      );
      return;
    }
    if (!phase.answering) {
      if (nowMs - heardAtMs >= Math.max(policy.dropAfterSilenceMs, 2 * patienceMs)) {
        this.#close(sensor, phase.link, said('link.fellSilent'), 0, true);
      }
      return;
    }
    if (nowMs - packetAtMs >= policy.renewSilentLinkAfterMs) {
      this.#close(sensor, phase.link, said('link.noReadings'), 0, true);
      return;
    }
    if (nowMs - heardAtMs >= patienceMs) {
      this.#probe(sensor, phase, nowMs - heardAtMs >= patienceMs + policy.probeTimeoutMs);
      return;
    }
    if (sensor.trial !== null && phase.asking === null && phase.chores.length === 0) {
      this.#endTrial(sensor.sensorId, null);
      return;
    }
    if (phase.asking !== null || phase.isDeaf) return;
    const next = phase.chores[0];
    if (next !== undefined) {
      this.#ask(sensor.sensorId, { ...phase, chores: phase.chores.slice(1) }, next, policy.choreTimeoutMs);
      return;
    }
    const command = sensor.wanted ? dueKeepAlive(this.#config, sensor, phase, nowMs) : null;
    if (command !== null) {
      this.#ask(sensor.sensorId, { ...phase, keptAliveAtMs: nowMs }, command, policy.choreTimeoutMs);
      return;
    }
    const battery = readable(phase.characteristics, assigned.batteryLevel);
    if (battery !== undefined && nowMs - phase.batteryReadAtMs >= policy.batteryReadEveryMs) {
      const chore = { type: 'read', ...placeOf(battery) } as const;
      this.#ask(sensor.sensorId, { ...phase, batteryReadAtMs: nowMs }, chore, policy.choreTimeoutMs);
    }
  }

  /** Its radio is not reached: what it sends meanwhile comes later, and until then its silence is told as silence. */
  #watchFromAfar(sensor: SensorRecord): void {
    const phase = sensor.phase;
    if (phase.phase !== 'ready' || !phase.answering) return;
    const heardAtMs = Math.max(sensor.lastPacketAtMs, phase.readySinceMs, phase.lastAnswerAtMs);
    if (this.#nowMs - heardAtMs < patienceWith(sensor, this.#policy) + this.#policy.probeTimeoutMs) return;
    this.#setPhase(sensor.sensorId, { ...phase, answering: false });
  }

  /** Asks a silent sensor whether it is there; where nothing can be asked, its silence alone must do. */
  #probe(sensor: SensorRecord, phase: Extract<LinkPhase, { phase: 'ready' }>, isOverdue: boolean): void {
    const policy = this.#policy;
    // A question already under way serves; a second one could only queue behind it.
    if (phase.asking !== null) {
      if (phase.asking.probe) return;
      const deadlineMs = Math.min(phase.asking.deadlineMs, this.#nowMs + policy.probeTimeoutMs);
      this.#setPhase(sensor.sensorId, { ...phase, asking: { ...phase.asking, deadlineMs, probe: true } });
      return;
    }
    const target = phase.isDeaf
      ? undefined
      : probeReads.map((uuid) => readable(phase.characteristics, uuid)).find((found) => found !== undefined);
    if (target === undefined) {
      if (isOverdue) this.#setPhase(sensor.sensorId, { ...phase, answering: false });
      return;
    }
    const chore = { type: 'read', ...placeOf(target) } as const;
    this.#ask(sensor.sensorId, phase, chore, policy.probeTimeoutMs, true);
  }

  #ask(
    sensorId: string,
    phase: Extract<LinkPhase, { phase: 'ready' }>,
    chore: Chore,
    timeoutMs: number,
    probe = false,
  ): void {
    this.#command(phase.link.radioId, commandOf(chore, phase.link.linkId));
    this.#setPhase(sensorId, {
      ...phase,
      asking: { chore, deadlineMs: this.#nowMs + timeoutMs, probe },
    });
  }

  onRadio(radioId: string, event: RadioEvent): void {
    const radio = this.#radios.get(radioId);
    if (radio === undefined) {
      this.#staleEvents += 1;
      return;
    }
    switch (event.type) {
      case 'on':
        this.#dropLinksOf(radioId, said('link.adapterRestarted'));
        this.#radios.set(radioId, {
          ...radio,
          on: true,
          abilities: event.abilities ?? ownAbilities,
          problem: null,
          scanning: false,
          scanChangedAtMs: Number.NEGATIVE_INFINITY,
          limit: null,
          awaySinceMs: null,
          connecting: null,
        });
        this.#commandInterest(radioId);
        return;
      case 'away':
        this.#radios.set(radioId, { ...radio, awaySinceMs: radio.awaySinceMs ?? this.#nowMs });
        return;
      case 'back':
        this.#onBack(radio);
        return;
      case 'problem':
        this.#dropLinksOf(radioId, said('link.adapterGone'));
        this.#radios.set(radioId, {
          ...radio,
          on: false,
          problem: { problem: event.problem, reason: event.reason },
          scanning: false,
          limit: null,
          awaySinceMs: null,
          connecting: null,
        });
        return;
      case 'advertisement':
        // The radio's clock is followed from another process: a stamp ahead of ours would make the next one seem late.
        this.#onAdvertisement(radioId, { ...event, atMs: earlier(event.atMs, this.#nowMs) });
        return;
      case 'bond':
        this.#onBond(event.peripheralId, event.isKept);
        return;
      case 'identified':
        this.#onIdentified(event.peripheralId, event.identity);
        return;
      default:
        this.#onLinkEvent(radio, event);
    }
  }

  /** What was under way has as long again as it would have had: neither side could say anything. */
  #onBack(radio: RadioRecord): void {
    const nowMs = this.#nowMs;
    const policy = this.#policy;
    const { connecting } = radio;
    this.#radios.set(radio.radioId, {
      ...radio,
      awaySinceMs: null,
      connecting: connecting === null ? null : { ...connecting, deadlineMs: nowMs + policy.connectTimeoutMs },
    });
    for (const sensor of [...this.#sensors.values()]) {
      const { phase } = sensor;
      if (!('link' in phase) || phase.link.radioId !== radio.radioId) continue;
      if (phase.phase === 'ready') {
        const asking =
          phase.asking === null ? null : { ...phase.asking, deadlineMs: nowMs + policy.choreTimeoutMs };
        this.#setPhase(sensor.sensorId, { ...phase, asking, lastAnswerAtMs: nowMs });
      } else {
        const patienceMs = phase.phase === 'closing' ? policy.closeTimeoutMs : policy.discoverTimeoutMs;
        this.#setPhase(sensor.sensorId, { ...phase, deadlineMs: nowMs + patienceMs });
      }
    }
  }

  #onAdvertisement(radioId: string, event: Extract<RadioEvent, { type: 'advertisement' }>): void {
    const sensorId = this.#aliases.get(event.peripheralId) ?? sensorIdOf(event.peripheralId);
    const known = this.#sensors.get(sensorId);
    const name = cleanName(event.name) ?? known?.name ?? 'Unnamed sensor';
    const services = [...new Set([...(known?.services ?? []), ...event.services])].slice(0, 32);
    const kinds = withoutSpotChecks(
      this.#kindsOf(name, services, known?.kinds ?? []),
      known?.onlySpotChecks ?? false,
    );
    const wanted = this.#wanted.has(sensorId);
    const isSought = this.#config.takeEverything || this.#config.looksAround === true;
    if (kinds.length === 0 && known === undefined && !wanted && !isSought) {
      this.#staleEvents += 1;
      return;
    }
    const record = known ?? this.#unheardSensor(sensorId);
    const vanished = event.atMs - record.lastHeardAtMs >= this.#policy.vanishedAfterMs;
    this.#sensors.set(sensorId, {
      ...record,
      peripheralId: record.trial === null ? event.peripheralId : record.peripheralId,
      name,
      services,
      kinds,
      wanted,
      // 127 is the controller's word for "not available" (Core 5.3 Vol 4 Part E s7.7.65.2).
      rssiDbm: event.rssiDbm === null || event.rssiDbm >= 20 ? null : event.rssiDbm,
      appearedAtMs: vanished ? event.atMs : record.appearedAtMs,
      lastHeardAtMs: event.atMs,
      heard: event.connectable ? this.#hear(record, radioId, event) : record.heard,
      takesNoLinkAtMs: event.connectable ? record.takesNoLinkAtMs : event.atMs,
      advertising: stepPace(record.advertising, event.atMs, 150, this.#policy.longestAdvertisingGapMs),
    });
  }

  #hear(
    sensor: SensorRecord,
    radioId: string,
    { atMs, rssiDbm }: Extract<RadioEvent, { type: 'advertisement' }>,
  ): readonly Hearing[] {
    const before = sensor.heard.find((heard) => heard.radioId === radioId);
    const goesOn = before !== undefined && atMs - before.atMs < this.#policy.vanishedAfterMs;
    const sinceMs = goesOn ? before.sinceMs : atMs;
    const others = sensor.heard.filter((heard) => heard !== before);
    return [
      ...others,
      { radioId, sinceMs, atMs, rssiDbm: rssiDbm !== null && rssiDbm < 20 ? rssiDbm : null },
    ];
  }

  #onLinkEvent(
    radio: RadioRecord,
    event: Exclude<
      RadioEvent,
      { type: 'on' | 'away' | 'back' | 'problem' | 'advertisement' | 'bond' | 'identified' }
    >,
  ): void {
    const sensor = this.#sensorOfLink(event.linkId);
    if (event.type === 'connected' || event.type === 'connectFailed') {
      this.#onConnectResult(radio, sensor, event);
      return;
    }
    if (sensor === undefined || !('link' in sensor.phase) || sensor.phase.link.radioId !== radio.radioId) {
      this.#staleEvents += 1;
      return;
    }
    const phase = sensor.phase;
    switch (event.type) {
      case 'notification':
        this.#onNotification(sensor, event);
        return;
      case 'disconnected':
        this.#onDisconnected(sensor, event.reason);
        return;
      case 'discovered':
        if (phase.phase === 'discovering') this.#onDiscovered(sensor, phase.link, event.characteristics);
        else if (phase.phase === 'ready') this.#onLateDiscovery(sensor, phase, event.characteristics);
        else this.#staleEvents += 1;
        return;
      case 'subscribed':
      case 'written':
        this.#onStepDone(sensor, event.type === 'subscribed' ? 'subscribe' : 'write', event.characteristic);
        return;
      case 'readDone':
        this.#onRead(sensor, event);
        return;
      case 'stepFailed':
        this.#onStepFailed(sensor, event);
        return;
      case 'pairingAsked': {
        const { requestId, question } = event;
        const expiresAtMs = this.#nowMs + event.expiresInMs;
        this.#update(sensor.sensorId, { pairing: { requestId, question, expiresAtMs } });
        return;
      }
      case 'pairingOver':
        if (sensor.pairing?.requestId === event.requestId) this.#endPairing(sensor.sensorId);
        return;
    }
  }

  onAnswerPairing({ sensorId, requestId, answer }: Extract<LinkEvent, { type: 'answerPairing' }>): void {
    const sensor = this.#sensors.get(sensorId);
    if (sensor?.pairing?.requestId !== requestId || !('link' in sensor.phase)) {
      this.#staleEvents += 1;
      return;
    }
    this.#command(sensor.phase.link.radioId, { type: 'answerPairing', requestId, answer });
  }

  /**
   * Every radio that keeps keys: which of them has this one is its own business. Only of a sensor of the hub's: the
   * computer has keys of keyboards and headsets too.
   */
  onForgetBond(sensorId: string): void {
    const sensor = this.#sensors.get(sensorId);
    if (sensor === undefined) return;
    const peripheralId = sensor.peripheralId ?? sensorId.replace(/^bt:/, '');
    for (const { radioId, on, abilities } of this.#radios.values())
      if (on && abilities.bonds === 'system') this.#command(radioId, { type: 'forgetBond', peripheralId });
  }

  /** What was waited for has its whole time again: pairing took it up. */
  #endPairing(sensorId: string): void {
    this.#update(sensorId, { pairing: null });
    const { phase } = this.#sensors.get(sensorId)!;
    const { subscribeTimeoutMs, choreTimeoutMs, discoverTimeoutMs } = this.#policy;
    if (phase.phase === 'discovering') {
      this.#setPhase(sensorId, { ...phase, deadlineMs: this.#nowMs + discoverTimeoutMs });
    } else if (phase.phase === 'subscribing') {
      this.#setPhase(sensorId, { ...phase, deadlineMs: this.#nowMs + subscribeTimeoutMs });
    } else if (phase.phase === 'ready') {
      const asking = phase.asking && { ...phase.asking, deadlineMs: this.#nowMs + choreTimeoutMs };
      this.#setPhase(sensorId, { ...phase, asking, lastAnswerAtMs: this.#nowMs });
    }
  }

  #onBond(peripheralId: string, isKept: boolean): void {
    if (isKept) this.#bonds.add(peripheralId);
    else this.#bonds.delete(peripheralId);
    const sensorId = this.#aliases.get(peripheralId) ?? sensorIdOf(peripheralId);
    if (this.#sensors.has(sensorId)) this.#update(sensorId, { isBonded: isKept });
  }

  /** Its address changes no more: whatever is heard under the new one is the sensor that had the old one. */
  #onIdentified(peripheralId: string, identity: string): void {
    const sensorId = this.#aliases.get(peripheralId) ?? sensorIdOf(peripheralId);
    if (!this.#sensors.has(sensorId)) return;
    this.#aliases.set(identity, sensorId);
    if (sensorIdOf(identity) !== sensorId) this.#sensors.delete(sensorIdOf(identity));
    this.#update(sensorId, { peripheralId: identity, isBonded: this.#bonds.has(identity) });
    for (const radio of this.#radios.values()) if (radio.on) this.#commandInterest(radio.radioId);
  }

  #onConnectResult(
    radio: RadioRecord,
    sensor: SensorRecord | undefined,
    event: Extract<RadioEvent, { type: 'connected' | 'connectFailed' }>,
  ): void {
    const attempt = radio.connecting?.linkId === event.linkId ? radio.connecting : null;
    if (attempt !== null) this.#radios.set(radio.radioId, { ...radio, connecting: null });
    if (sensor === undefined || sensor.phase.phase !== 'connecting') {
      this.#staleEvents += 1;
      // A link that nobody waits for any more must not stay open.
      if (event.type === 'connected' && sensor === undefined) {
        this.#command(radio.radioId, { type: 'disconnect', linkId: event.linkId });
      }
      return;
    }
    const link = sensor.phase.link;
    if (event.type === 'connectFailed') {
      if (event.isLimit) this.#reachLimit(sensor, link);
      else {
        this.#update(sensor.sensorId, { linkLimitAtMs: Number.NEGATIVE_INFINITY });
        this.#failAttempt(sensor, link, event.reason);
      }
      return;
    }
    if (attempt?.cancelling || !sensor.wanted || this.#stopping) {
      this.#close(sensor, link, said('link.attemptGivenUp'), link.failures + 1);
      return;
    }
    this.#command(link.radioId, {
      type: 'discover',
      linkId: link.linkId,
      services: this.#servicesToDiscover(sensor.sensorId),
    });
    this.#setPhase(sensor.sensorId, {
      phase: 'discovering',
      link,
      deadlineMs: this.#nowMs + this.#policy.discoverTimeoutMs,
    });
  }

  /** The adapter holds as many links as it can: no fault of the sensor's, which another may take at once. */
  #reachLimit(sensor: SensorRecord, link: Link): void {
    this.#count(sensor.sensorId, { failedAttempts: 1 });
    this.#update(sensor.sensorId, { linkLimitAtMs: this.#nowMs });
    this.#afterLink(sensor, link.failures, link.lost, null, this.#nowMs);
    const radio = this.#radios.get(link.radioId)!;
    const links = linksOf(this.#sensors.values(), link.radioId);
    this.#radios.set(link.radioId, { ...radio, limit: { links, atMs: this.#nowMs } });
  }

  #onDiscovered(
    sensor: SensorRecord,
    link: Link,
    characteristics: readonly DiscoveredCharacteristic[],
  ): void {
    const services = [...new Set([...sensor.services, ...characteristics.map((found) => found.service)])];
    const has = (uuid: string) => characteristics.some((found) => found.characteristic === uuid);
    const onlySpotChecks = has(assigned.plxSpotCheck) && !has(assigned.plxContinuous);
    this.#update(sensor.sensorId, {
      services,
      onlySpotChecks,
      kinds: withoutSpotChecks(this.#kindsOf(sensor.name, services, sensor.kinds), onlySpotChecks),
      troubles: [],
    });
    // What hung on an earlier link is asked for last, so that the rest works meanwhile.
    const hung = (step: SetupStep): number =>
      sensor.troubles.some(
        ({ characteristic, refusal }) => refusal === 'noAnswer' && characteristic === step.characteristic,
      )
        ? 1
        : 0;
    const { sensorId, name } = sensor;
    const steps = this.#setupSteps({ sensorId, name, services }, characteristics).toSorted(
      (a, b) => hung(a) - hung(b),
    );
    const isOfUse = steps.some((step) => step.type === 'subscribe');
    if (!isOfUse && !isTakenWhole(this.#config, sensorId)) {
      this.#close(
        sensor,
        link,
        said('link.nothingUnderstood'),
        link.failures + 1,
        false,
        this.#policy.uselessRetryMs,
      );
      return;
    }
    this.#startStep(sensor.sensorId, link, steps, characteristics);
  }

  #setupSteps(
    sensor: Pick<SensorRecord, 'sensorId' | 'name' | 'services'>,
    characteristics: readonly DiscoveredCharacteristic[],
  ): readonly SetupStep[] {
    const steps: SetupStep[] = [];
    const has = (service: string, characteristic: string) =>
      characteristics.find(
        (found) =>
          found.service === service && found.characteristic === characteristic && canNotify(found.properties),
      );
    const subscribe = (service: string, characteristic: string) => {
      if (!steps.some((step) => step.service === service && step.characteristic === characteristic)) {
        steps.push({ type: 'subscribe', service, characteristic });
      }
    };
    for (const [service, characteristic] of standardStreams) {
      if (has(service, characteristic)) subscribe(service, characteristic);
    }
    const profile = profileFor(this.#config, sensor);
    if (profile !== undefined && has(profile.service, profile.notify)) {
      subscribe(profile.service, profile.notify);
      for (const also of profile.also ?? []) if (has(profile.service, also)) subscribe(profile.service, also);
      for (const command of profile.start) {
        const taken = asTaken(profile.service, command, characteristics);
        steps.push({ type: 'write', service: profile.service, ...taken });
      }
    }
    if (isTakenWhole(this.#config, sensor.sensorId)) {
      for (const found of characteristics) {
        if (canNotify(found.properties)) subscribe(found.service, found.characteristic);
      }
    }
    return steps;
  }

  #startStep(
    sensorId: string,
    link: Link,
    steps: readonly SetupStep[],
    characteristics: readonly DiscoveredCharacteristic[],
    hasStream = false,
  ): void {
    const step = steps[0];
    // A stream is what a link is for: it works from the first one on, and the rest comes as it comes. A profile's
    // commands belong to its stream.
    if (step === undefined || (hasStream && step.type !== 'write')) {
      this.#becomeReady(sensorId, link, steps, characteristics);
      return;
    }
    this.#command(link.radioId, commandOf(step, link.linkId));
    this.#setPhase(sensorId, {
      phase: 'subscribing',
      link,
      deadlineMs:
        this.#nowMs +
        (step.type === 'subscribe' ? this.#policy.subscribeTimeoutMs : this.#policy.writeTimeoutMs),
      steps,
      characteristics,
      hasStream,
    });
  }

  #becomeReady(
    sensorId: string,
    link: Link,
    steps: readonly SetupStep[],
    characteristics: readonly DiscoveredCharacteristic[],
    isDeaf = false,
  ): void {
    const nowMs = this.#nowMs;
    const chores: Chore[] = [...steps];
    if (isTakenWhole(this.#config, sensorId)) chores.push(...laterChores(characteristics));
    else chores.push({ type: 'discover', services: lateServices });
    this.#update(sensorId, { sending: unknownPace });
    this.#setPhase(sensorId, {
      phase: 'ready',
      link,
      readySinceMs: nowMs,
      characteristics,
      chores: isDeaf ? [] : chores,
      asking: null,
      isDeaf,
      lastAnswerAtMs: nowMs,
      answering: true,
      batteryReadAtMs: nowMs,
      keptAliveAtMs: nowMs,
    });
  }

  #onStepDone(sensor: SensorRecord, type: SetupStep['type'], characteristic: string): void {
    const phase = sensor.phase;
    if (phase.phase === 'ready') {
      this.#onChoreDone(sensor, phase, type, characteristic);
      return;
    }
    const step = phase.phase === 'subscribing' ? phase.steps[0] : undefined;
    if (phase.phase !== 'subscribing' || step?.type !== type || step.characteristic !== characteristic) {
      this.#staleEvents += 1;
      return;
    }
    this.#startStep(
      sensor.sensorId,
      phase.link,
      phase.steps.slice(1),
      phase.characteristics,
      phase.hasStream || type === 'subscribe',
    );
  }

  #onChoreDone(
    sensor: SensorRecord,
    phase: Extract<LinkPhase, { phase: 'ready' }>,
    type: Chore['type'],
    characteristic: string | null,
  ): void {
    const asked = phase.asking?.chore;
    if (asked?.type !== type || (asked.type !== 'discover' && asked.characteristic !== characteristic)) {
      this.#staleEvents += 1;
      return;
    }
    this.#setPhase(sensor.sensorId, {
      ...phase,
      asking: null,
      answering: true,
      lastAnswerAtMs: this.#nowMs,
    });
  }

  /** The rest of a sensor that sends already: battery, name, make and serial number. */
  #onLateDiscovery(
    sensor: SensorRecord,
    phase: Extract<LinkPhase, { phase: 'ready' }>,
    characteristics: readonly DiscoveredCharacteristic[],
  ): void {
    if (phase.asking?.chore.type !== 'discover') {
      this.#staleEvents += 1;
      return;
    }
    const all = [...phase.characteristics, ...characteristics];
    this.#setPhase(sensor.sensorId, {
      ...phase,
      characteristics: all,
      chores: [...phase.chores, ...laterChores(all)],
      asking: null,
      answering: true,
      lastAnswerAtMs: this.#nowMs,
    });
  }

  #onStepFailed(sensor: SensorRecord, event: Extract<RadioEvent, { type: 'stepFailed' }>): void {
    const { step, reason, refusal = 'refused' } = event;
    const phase = sensor.phase;
    if (phase.phase === 'discovering' && step === 'discover') {
      this.#close(sensor, phase.link, said('link.servicesNotListed', { reason }), phase.link.failures + 1);
    } else if (phase.phase === 'subscribing' && step === phase.steps[0]?.type) {
      this.#passOver(sensor, phase, refusal, reason);
    } else if (phase.phase === 'ready' && phase.asking?.chore.type === step) {
      const { chore } = phase.asking;
      if (chore.type === 'subscribe')
        this.#noteTrouble(sensor.sensorId, chore.characteristic, refusal, reason);
      const isDeaf = phase.isDeaf || refusal === 'noAnswer';
      // A refusal is an answer: the sensor is there.
      this.#setPhase(sensor.sensorId, {
        ...phase,
        asking: null,
        isDeaf,
        chores: isDeaf ? [] : phase.chores,
        answering: isDeaf ? phase.answering : true,
        lastAnswerAtMs: isDeaf ? phase.lastAnswerAtMs : this.#nowMs,
      });
    } else {
      this.#staleEvents += 1;
    }
  }

  /** A stream or command that a sensor would not give; the others are tried before it is given up. */
  #passOver(
    sensor: SensorRecord,
    phase: Extract<LinkPhase, { phase: 'subscribing' }>,
    refusal: SensorTrouble['refusal'],
    reason: Said,
  ): void {
    const failed = phase.steps[0]!;
    this.#noteTrouble(sensor.sensorId, failed.characteristic, refusal, reason);
    const rest = phase.steps.slice(1);
    if (refusal === 'noAnswer' && phase.hasStream) {
      this.#becomeReady(sensor.sensorId, phase.link, [], phase.characteristics, true);
    } else if (refusal !== 'noAnswer' && (phase.hasStream || rest.some(({ type }) => type === 'subscribe'))) {
      this.#startStep(sensor.sensorId, phase.link, rest, phase.characteristics, phase.hasStream);
    } else {
      const locked = this.#sensors
        .get(sensor.sensorId)!
        .troubles.some((trouble) => trouble.refusal === 'locked');
      this.#close(
        sensor,
        phase.link,
        locked ? said('link.wantsPairing') : said('link.notSending', { reason }),
        phase.link.failures + 1,
        false,
        locked ? this.#policy.lockedRetryMs : undefined,
      );
    }
  }

  #noteTrouble(
    sensorId: string,
    characteristic: string,
    refusal: SensorTrouble['refusal'],
    reason: Said,
  ): void {
    const { troubles } = this.#sensors.get(sensorId)!;
    this.#update(sensorId, {
      troubles: [
        ...troubles.filter((known) => known.characteristic !== characteristic),
        { characteristic, refusal, reason },
      ],
    });
  }

  #onRead(sensor: SensorRecord, event: Extract<RadioEvent, { type: 'readDone' }>): void {
    const phase = sensor.phase;
    if (phase.phase !== 'ready') {
      this.#staleEvents += 1;
      return;
    }
    const asked = phase.asking?.chore;
    const isAnswer = asked?.type === 'read' && asked.characteristic === event.characteristic;
    this.#setPhase(sensor.sensorId, {
      ...phase,
      asking: isAnswer ? null : phase.asking,
      answering: true,
      lastAnswerAtMs: this.#nowMs,
    });
    if (sensor.trial !== null) {
      if (event.characteristic === assigned.serialNumber)
        this.#endTrial(sensor.sensorId, readableText(event.bytes));
      return;
    }
    if (event.bytes.length === 0) return;
    this.#learn(sensor.sensorId, event.characteristic, event.bytes);
    if (event.characteristic !== assigned.deviceName) {
      this.#effects.push({
        type: 'packet',
        sensorId: sensor.sensorId,
        characteristic: event.characteristic,
        bytes: event.bytes,
        atMs: event.atMs,
        isLate: this.#isLate(phase.link, event.atMs),
      });
    }
  }

  #onNotification(sensor: SensorRecord, event: Extract<RadioEvent, { type: 'notification' }>): void {
    const phase = sensor.phase;
    // Of a link that is being given up too: what has come is not thrown away because the next would have been too late.
    const isGivenUp = phase.phase === 'closing' && sensor.wanted && !this.#stopping;
    if (phase.phase !== 'subscribing' && phase.phase !== 'ready' && !isGivenUp) {
      this.#count(sensor.sensorId, { outOfOrder: 1 });
      return;
    }
    if (event.sequence <= sensor.lastSequence) {
      this.#count(
        sensor.sensorId,
        event.sequence === sensor.lastSequence ? { duplicates: 1 } : { outOfOrder: 1 },
      );
      return;
    }
    this.#count(sensor.sensorId, { packets: 1, missed: event.sequence - sensor.lastSequence - 1 });
    // The clock's offset is an estimate that gets better; a sensor's packets never go back in time for it.
    const atMs = Math.max(event.atMs, sensor.lastPacketAtMs) as ProcessMs;
    this.#update(sensor.sensorId, { lastSequence: event.sequence, lastPacketAtMs: atMs });
    if (event.characteristic !== assigned.batteryLevel) {
      const sending = stepPace(sensor.sending, atMs, 50, this.#policy.longestSendingGapMs);
      this.#update(sensor.sensorId, { sending });
    }
    const isLate = this.#isLate(phase.link, atMs);
    if (phase.phase === 'ready' && !phase.answering && !isLate) {
      // An unanswered question may still stand in the way of the next.
      this.#setPhase(sensor.sensorId, {
        ...phase,
        answering: true,
        asking: null,
        isDeaf: phase.asking !== null,
      });
    }
    if (sensor.trial !== null) return;
    if (event.characteristic === assigned.batteryLevel) {
      this.#learn(sensor.sensorId, event.characteristic, event.bytes);
    }
    this.#effects.push({
      type: 'packet',
      sensorId: sensor.sensorId,
      characteristic: event.characteristic,
      bytes: event.bytes,
      atMs,
      isLate,
    });
  }

  #isLate({ radioId }: Link, atMs: ProcessMs): boolean {
    return this.#radios.get(radioId)?.isElsewhere === true && this.#nowMs - atMs > this.#policy.lateAfterMs;
  }

  #learn(sensorId: string, characteristic: string, bytes: Uint8Array): void {
    const first = bytes[0];
    if (characteristic === assigned.batteryLevel) {
      if (first !== undefined && first <= 100) this.#update(sensorId, { batteryPercent: first });
    } else if (characteristic === assigned.modelNumber) {
      this.#update(sensorId, { model: readableText(bytes) });
    } else if (characteristic === assigned.serialNumber) {
      this.#update(sensorId, { serialNumber: readableText(bytes) });
    } else if (characteristic === assigned.manufacturerName) {
      this.#update(sensorId, { manufacturer: readableText(bytes) });
    } else if (characteristic === assigned.firmwareRevision) {
      this.#update(sensorId, { firmware: readableText(bytes) });
    }
  }

  #onDisconnected(sensor: SensorRecord, reason: Said): void {
    const phase = sensor.phase;
    if (phase.phase === 'idle' || phase.phase === 'searching') {
      this.#staleEvents += 1;
      return;
    }
    if (phase.phase === 'closing') {
      this.#afterLink(sensor, phase.failures, phase.lost, phase.reason, phase.retryAtMs);
      return;
    }
    if (phase.phase === 'ready') {
      this.#count(sensor.sensorId, { losses: 1 });
      this.#afterLink(sensor, 0, true, said('link.lost', { reason }), this.#nowMs);
      return;
    }
    this.#freeSlot(phase.link);
    this.#failAttempt(sensor, phase.link, said('link.lostInSetup', { reason }));
  }

  #failAttempt(sensor: SensorRecord, link: Link, reason: Said): void {
    this.#count(sensor.sensorId, { failedAttempts: 1 });
    const failures = link.failures + 1;
    this.#afterLink(sensor, failures, link.lost, reason, this.#nowMs + this.#retryDelayMs(failures));
  }

  /** A link or an attempt is over and the adapter has let go of it. */
  #afterLink(
    sensor: SensorRecord,
    failures: number,
    lost: boolean,
    reason: Said | null,
    notBeforeMs: number,
  ): void {
    if (sensor.pairing !== null) this.#update(sensor.sensorId, { pairing: null });
    if (sensor.trial !== null) {
      this.#update(sensor.sensorId, {
        peripheralId: sensor.trial.formerPeripheralId,
        trial: null,
        heard: [],
        advertising: unknownPace,
      });
    }
    this.#setPhase(
      sensor.sensorId,
      sensor.wanted && !this.#stopping ? searching(notBeforeMs, failures, lost, reason) : { phase: 'idle' },
    );
  }

  /** Asks for the end of a link that is open. What comes over it from now on is delivered where somebody wants it. */
  #close(
    sensor: SensorRecord,
    link: Link,
    reason: Said | null,
    failures: number,
    wasWorking = false,
    retryDelayMs = this.#retryDelayMs(failures),
  ): void {
    this.#freeSlot(link);
    this.#count(sensor.sensorId, wasWorking ? { losses: 1 } : { failedAttempts: failures > 0 ? 1 : 0 });
    if (reason === null) {
      // Let go on purpose: a sensor that would go on measuring is told to stop.
      const profile = profileFor(this.#config, sensor);
      for (const command of profile?.stop ?? []) {
        const { phase } = sensor;
        const known = phase.phase === 'ready' || phase.phase === 'subscribing' ? phase.characteristics : [];
        const taken = asTaken(profile!.service, command, known);
        const step = { type: 'write', service: profile!.service, ...taken } as const;
        this.#command(link.radioId, commandOf(step, link.linkId));
      }
    }
    this.#command(link.radioId, { type: 'disconnect', linkId: link.linkId });
    this.#setPhase(sensor.sensorId, {
      phase: 'closing',
      link,
      deadlineMs: this.#nowMs + this.#policy.closeTimeoutMs,
      reason,
      lost: wasWorking || link.lost,
      retryAtMs: this.#nowMs + retryDelayMs,
      failures,
    });
  }

  /** The sensor is not wanted any more, or the hub stops. */
  #letGo(sensorId: string): void {
    const sensor = this.#sensors.get(sensorId)!;
    const phase = sensor.phase;
    if (phase.phase === 'connecting') {
      const radio = this.#radios.get(phase.link.radioId);
      if (radio?.connecting?.linkId === phase.link.linkId && !radio.connecting.cancelling) {
        this.#cancel(radio);
      }
    } else if (phase.phase === 'searching') {
      this.#setPhase(sensorId, { phase: 'idle' });
    } else if (phase.phase !== 'idle' && phase.phase !== 'closing') {
      this.#close(sensor, phase.link, null, 0);
    }
  }

  #cancel(radio: RadioRecord): void {
    const connecting = radio.connecting!;
    this.#command(radio.radioId, { type: 'cancelConnect', linkId: connecting.linkId });
    this.#radios.set(radio.radioId, {
      ...radio,
      connecting: {
        ...connecting,
        cancelling: true,
        deadlineMs: this.#nowMs + this.#policy.cancelTimeoutMs,
      },
    });
  }

  #restartRadio(radioId: string, reason: Said): void {
    const radio = this.#radios.get(radioId)!;
    this.#effects.push({ type: 'restartRadio', radioId, reason });
    this.#dropLinksOf(radioId, reason);
    this.#radios.set(radioId, {
      ...radio,
      on: false,
      problem: { problem: 'radioProcessFailed', reason },
      scanning: false,
      awaySinceMs: null,
      connecting: null,
    });
  }

  /** Every link of a radio is gone without further word. */
  #dropLinksOf(radioId: string, reason: Said): void {
    for (const sensor of [...this.#sensors.values()]) {
      const phase = sensor.phase;
      if ('link' in phase && phase.link.radioId === radioId) {
        const working = phase.phase === 'ready';
        if (working) this.#count(sensor.sensorId, { losses: 1 });
        this.#afterLink(sensor, 0, working || phase.link.lost, reason, this.#nowMs);
      }
      if (sensor.heard.some((heard) => heard.radioId === radioId))
        this.#update(sensor.sensorId, {
          heard: sensor.heard.filter((heard) => heard.radioId !== radioId),
        });
    }
  }

  /** After every event: who may connect now, and who should be scanning. */
  settle(): void {
    if (this.#stopping) {
      for (const radio of [...this.#radios.values()])
        if (radio.on && radio.scanning) this.#scan(radio, false);
      return;
    }
    this.#startTrials();
    for (const { radioId } of [...this.#radios.values()]) {
      const radio = this.#radios.get(radioId)!;
      if (!radio.on || radio.connecting !== null || radio.awaySinceMs !== null) continue;
      const next = this.#nextToConnect(radioId);
      if (next !== undefined) this.#connect(radio, next);
      else this.#settleScan(radio);
    }
  }

  /** A missed sensor whose serial number is known may be back under another address: one of its name is tried. */
  #startTrials(): void {
    for (const missed of [...this.#sensors.values()]) {
      if (!missed.wanted || missed.phase.phase !== 'searching' || missed.serialNumber === null) continue;
      if (missed.trial !== null || this.#nowMs < missed.phase.notBeforeMs) continue;
      if (this.#nowMs - missed.lastHeardAtMs < this.#policy.vanishedAfterMs) continue;
      const candidate = [...this.#sensors.values()].find(
        (other) =>
          !other.wanted &&
          other.phase.phase === 'idle' &&
          other.name === missed.name &&
          other.heard.some(({ atMs }) => this.#nowMs - atMs <= this.#policy.freshAdvertisementMs) &&
          other.kinds.some((kind) => missed.kinds.includes(kind)) &&
          !missed.strangers.includes(other.peripheralId),
      );
      if (candidate === undefined) continue;
      this.#update(missed.sensorId, {
        trial: { formerPeripheralId: missed.peripheralId },
        peripheralId: candidate.peripheralId,
        heard: candidate.heard,
        advertising: candidate.advertising,
      });
    }
  }

  /** The serial number of a sensor on trial, or that it has none to tell. */
  #endTrial(sensorId: string, serialNumber: string | null): void {
    const sensor = this.#sensors.get(sensorId)!;
    if (sensor.phase.phase !== 'ready') return;
    if (serialNumber !== null && serialNumber === sensor.serialNumber) {
      this.#knowAs(sensor.peripheralId, sensorId);
      this.#sensors.delete(sensorIdOf(sensor.peripheralId));
      this.#update(sensorId, { trial: null, sending: unknownPace });
      return;
    }
    this.#update(sensorId, { strangers: [...sensor.strangers.slice(-31), sensor.peripheralId] });
    this.#close(this.#sensors.get(sensorId)!, sensor.phase.link, said('link.otherSensor'), 0, false);
  }

  #nextToConnect(radioId: string): SensorRecord | undefined {
    let best: SensorRecord | undefined;
    const radios = [...this.#radios.values()];
    const loads = radios.map((radio) => ({ radio, links: linksOf(this.#sensors.values(), radio.radioId) }));
    for (const sensor of [...this.#sensors.values()]) {
      const { phase } = sensor;
      if (phase.phase !== 'searching' || !sensor.wanted || sensor.heard.length === 0) continue;
      if (this.#nowMs < phase.notBeforeMs) continue;
      const choice = chooseRadio(sensor, loads, this.#nowMs, this.#policy);
      if (choice === 'allFull') this.#update(sensor.sensorId, { linkLimitAtMs: this.#nowMs });
      if (typeof choice === 'string' || choice.radioId !== radioId) continue;
      // Whoever failed least goes first, so that a sensor on the edge of range delays nobody else.
      if (best === undefined || phase.failures < failuresOf(best)) best = sensor;
    }
    return best;
  }

  #connect(radio: RadioRecord, sensor: SensorRecord): void {
    if (sensor.phase.phase !== 'searching') return;
    if (radio.scanning) this.#scan(radio, false);
    this.#linksMade += 1;
    const link: Link = {
      linkId: `${radio.radioId}-${this.#linksMade}`,
      radioId: radio.radioId,
      failures: sensor.phase.failures,
      lost: sensor.phase.lost,
    };
    const crowded = [...this.#sensors.values()].some(
      (other) => other.sensorId !== sensor.sensorId && other.phase.phase === 'searching',
    );
    const deadlineMs = this.#nowMs + attemptMs(sensor, crowded, this.#policy);
    this.#command(radio.radioId, {
      type: 'connect',
      linkId: link.linkId,
      peripheralId: sensor.peripheralId,
    });
    this.#radios.set(radio.radioId, {
      ...this.#radios.get(radio.radioId)!,
      connecting: { linkId: link.linkId, sensorId: sensor.sensorId, deadlineMs, cancelling: false },
    });
    this.#update(sensor.sensorId, {
      heard: [],
      canPair: radio.abilities.bonds === 'system',
      lastSequence: 0,
      lastPacketAtMs: Number.NEGATIVE_INFINITY,
    });
    this.#setPhase(sensor.sensorId, { phase: 'connecting', link, deadlineMs });
  }

  #settleScan(radio: RadioRecord): void {
    const sensors = [...this.#sensors.values()];
    const missing = sensors.some((sensor) => sensor.wanted && sensor.phase.phase === 'searching');
    const resting = !missing && sensors.some((sensor) => sensor.wanted);
    const sinceMs = this.#nowMs - radio.scanChangedAtMs;
    if (!radio.scanning) {
      if (!resting || sinceMs >= this.#policy.restScanOffMs) this.#scan(radio, true);
    } else if (resting) {
      if (sinceMs >= this.#policy.restScanOnMs) this.#scan(radio, false);
    } else if (sinceMs >= this.#policy.scanRefreshMs) {
      this.#scan(radio, true);
    }
  }

  #scan(radio: RadioRecord, on: boolean): void {
    this.#command(radio.radioId, { type: 'scan', on });
    this.#radios.set(radio.radioId, {
      ...this.#radios.get(radio.radioId)!,
      scanning: on,
      scanChangedAtMs: this.#nowMs,
    });
  }

  /** Lets go of sensors that nobody wants and nobody hears, and of the oldest when there are too many. */
  #forget(): void {
    const unwanted: SensorRecord[] = [];
    for (const sensor of [...this.#sensors.values()]) {
      if (sensor.wanted || sensor.phase.phase !== 'idle') continue;
      if (this.#nowMs - sensor.lastHeardAtMs >= this.#policy.forgetAfterMs) {
        this.#sensors.delete(sensor.sensorId);
      } else {
        unwanted.push(sensor);
      }
    }
    unwanted.sort((a, b) => b.lastHeardAtMs - a.lastHeardAtMs);
    for (const sensor of unwanted.slice(this.#policy.mostUnwanted)) this.#sensors.delete(sensor.sensorId);
  }

  #kindsOf(name: string, services: readonly string[], known: readonly SensorKind[]): readonly SensorKind[] {
    const kinds = new Set<SensorKind>(known);
    if (services.includes(assigned.heartRate)) kinds.add('heartRate');
    if (services.includes(assigned.pulseOximeter)) kinds.add('oximeter');
    for (const kind of profileFor(this.#config, { name, services })?.measures ?? []) kinds.add(kind);
    return kinds.size === known.length ? known : [...kinds];
  }

  #servicesToDiscover(sensorId: string): readonly string[] {
    if (isTakenWhole(this.#config, sensorId)) return [];
    return [
      assigned.heartRate,
      assigned.pulseOximeter,
      ...this.#config.profiles.map((profile) => profile.service),
    ];
  }

  #unheardSensor(sensorId: string): SensorRecord {
    const unheard = { ...unheardSensor(sensorId), isBonded: this.#bonds.has(sensorId.replace(/^bt:/, '')) };
    return this.#wanted.has(sensorId)
      ? { ...unheard, wanted: true, phase: searching(this.#nowMs, 0, false, null) }
      : unheard;
  }

  #freeSlot(link: Link): void {
    const radio = this.#radios.get(link.radioId);
    if (radio?.connecting?.linkId === link.linkId) {
      this.#radios.set(link.radioId, { ...radio, connecting: null });
    }
  }

  #retryDelayMs(failures: number): number {
    const delays = this.#policy.retryDelaysMs;
    return failures === 0 ? 0 : delays[Math.min(failures, delays.length) - 1]!;
  }

  #sensorOfLink(linkId: string): SensorRecord | undefined {
    for (const sensor of this.#sensors.values()) {
      if ('link' in sensor.phase && sensor.phase.link.linkId === linkId) return sensor;
    }
    return undefined;
  }

  #command(radioId: string, command: RadioCommand): void {
    this.#effects.push({ type: 'command', radioId, command });
  }

  #commandInterest(radioId: string): void {
    const { state } = this.finish();
    this.#command(radioId, { type: 'interest', interest: scanInterest(this.#config, state) });
  }

  #setPhase(sensorId: string, phase: LinkPhase): void {
    this.#update(sensorId, { phase });
  }

  #update(sensorId: string, change: Partial<SensorRecord>): void {
    this.#sensors.set(sensorId, { ...this.#sensors.get(sensorId)!, ...change });
  }

  #count(sensorId: string, change: Partial<SensorCounts>): void {
    const counts = { ...this.#sensors.get(sensorId)!.counts };
    for (const [key, by] of Object.entries(change)) counts[key as keyof SensorCounts] += by;
    this.#update(sensorId, { counts });
  }
}

const earlier = (one: ProcessMs, other: ProcessMs): ProcessMs => (one < other ? one : other);
