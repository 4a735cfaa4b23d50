// Speaks the radio port through BlueZ's D-Bus API, inside the radio process: bluetoothd makes the links, asks the sensors,
// keeps the keys. No call is waited for without end, and a daemon that goes away ends the radio with what to do.

import { type Said, said } from '../../../../shared/said.ts';
import { type ProcessMs, processMs } from '../../../../shared/units.ts';
import type { RadioCommand, RadioEvent, RadioProblem, ScanInterest } from '../radio.ts';
import { carryOut, type RadioParts, type StepCommand } from '../radio-commands.ts';
import { assigned, shortUuid } from '../uuid.ts';
import {
  connectFailureOf,
  endOf,
  failureOf,
  pairingFailureOf,
  problemOfFailure,
  refusalOf,
} from './bluez-failures.ts';
import {
  BluezObjects,
  bytesOf,
  type Found,
  listOf,
  names,
  type Properties,
  peripheralIdOf,
  textOf,
} from './bluez-objects.ts';
import { BusClient, type BusSignal, busEnded, CallFailure, ofType, plain } from './bus-client.ts';
import { KeyDoubts } from './key-doubts.ts';
import { answerWithinMs, PairingAgent, type PairingOutcome } from './pairing-agent.ts';

/** Milliseconds; ours, where nothing is said. */
const limits = {
  /** For what bluetoothd answers out of its own head. */
  word: 5_000,
  /** The kernel tells bluetoothd of a link on two ways, of which either may be first. */
  connectedWord: 1_000,
  /** Longer than the link logic waits for any attempt: that gives up first. */
  connect: 60_000,
  /** bluetoothd waits 2 s before it ends a link (src/device.c, DISCONNECT_TIMER), and the controller up to its timeout. */
  disconnect: 9_000,
  services: 19_000,
  /** Less than the link logic waits for a subscription or a write (link-policy.ts). */
  question: 11_000,
  /** A person's answer, and the rest of the pairing. */
  pair: answerWithinMs + 15_000,
} as const;
/** How often one sensor's advertisements are passed on, as with the other radios. */
const advertisementEveryMs = 200;
/** A sensor whose link bluetoothd holds already does not advertise: it is told of this often while there is a scan. */
const heldEveryMs = 500;
const batteryPathEnd = '#battery';

interface OpenLink {
  readonly linkId: string;
  readonly path: string;
  state: 'connecting' | 'cancelling' | 'open' | 'ended';
  /** Paths whose values are passed on, with their characteristics. */
  readonly subscribed: Map<string, string>;
  /** Reads under way: bluetoothd tells their values as it tells notifications. */
  readonly reading: Map<string, { readonly bytes: Uint8Array; readonly atMs: number }[]>;
  triedPairing: boolean;
  /** What is being asked of it: one thing at a time. */
  asking: StepCommand['type'] | null;
  /** How a person's part in its pairing ended. */
  pairingWord: Said | null;
  lastWord: Said | null;
  sequence: number;
}

/** A question that came to nothing for a reason of its own. */
class StepRefusal extends Error {
  readonly refusal: 'locked' | 'missing' | 'noAnswer';
  readonly said: Said;
  constructor(refusal: StepRefusal['refusal'], reason: Said) {
    super(reason.code);
    this.refusal = refusal;
    this.said = reason;
  }
}

export class BluezRadio {
  readonly #emit: (event: RadioEvent) => void;
  readonly #adapterIndex: number | null;
  readonly #objects = new BluezObjects();
  readonly #links = new Map<string, OpenLink>();
  readonly #lastAdvertisedAtMs = new Map<string, number>();
  readonly #keyDoubts = new KeyDoubts();
  #bus: BusClient | null = null;
  #agent: PairingAgent | null = null;
  #adapter = '';
  #interest: ScanInterest = { services: [], namePrefixes: [], peripheralIds: [] };
  #scanWanted = false;
  #scanning = false;
  #scanWork: Promise<void> = Promise.resolve();
  #heldTimer: NodeJS.Timeout | undefined;
  #waiters: { readonly isMet: () => boolean; readonly resolve: () => void }[] = [];
  #isOver = false;
  readonly #parts: RadioParts = {
    setInterest: (interest) => {
      this.#interest = interest;
    },
    setScan: (on) => this.#setScan(on),
    connect: (linkId, peripheralId) => void this.#connect(linkId, peripheralId),
    cancel: (linkId) => this.#cancel(linkId),
    disconnect: (linkId) => this.#disconnect(linkId),
    step: (command) => {
      const link = this.#links.get(command.linkId);
      if (link?.state === 'open') void this.#step(link, command);
    },
    pairing: {
      answer: (requestId, answer) => this.#agent?.answer(requestId, answer),
      forget: (peripheralId) => void this.#forgetBond(peripheralId),
    },
  };

  /** @param adapterIndex number of the adapter (hci0 is 0); null takes the first that is switched on. */
  constructor(adapterIndex: number | null, emit: (event: RadioEvent) => void) {
    this.#adapterIndex = adapterIndex;
    this.#emit = emit;
  }

  start(): void {
    this.#open().catch((error: unknown) => {
      const { problem, reason } = problemOfFailure(failureOf(error));
      this.#problem(problem, reason);
    });
  }

  async #open(): Promise<void> {
    const bus = await BusClient.open();
    this.#bus = bus;
    bus.onSignal = (signal) => this.#onSignal(signal);
    bus.onEnd = () => this.#problem('noDaemon', said('radio.connectionEnded'));
    const agent = new PairingAgent(bus, {
      linkOf: (devicePath) => this.#linkOfDevice(devicePath)?.linkId,
      asked: (linkId, requestId, question) =>
        this.#emit({ type: 'pairingAsked', linkId, requestId, question, expiresInMs: answerWithinMs }),
      over: (linkId, requestId, outcome) => {
        const link = this.#links.get(linkId);
        if (link !== undefined) link.pairingWord = wordOf[outcome];
        this.#emit({ type: 'pairingOver', linkId, requestId });
      },
    });
    this.#agent = agent;
    bus.onCall = (call) => agent.take(call);
    const rules = [
      "type='signal',sender='org.bluez'",
      "type='signal',sender='org.freedesktop.DBus',member='NameOwnerChanged',arg0='org.bluez'",
    ];
    for (const rule of rules) await this.#askBus('AddMatch', 's', rule);
    bus.peer = await this.#ownerOfBluez();
    for (const [path, interfaces] of await this.#managedObjects()) this.#add(path, interfaces);
    this.#chooseAdapter();
  }

  async #managedObjects(): Promise<readonly [string, Record<string, Properties>][]> {
    const [objects] = await this.#call('/', names.objectManager, 'GetManagedObjects');
    return Object.entries((objects ?? {}) as Record<string, Record<string, Properties>>);
  }

  /** Of these alone: what changes of a device is heard by its signals, which tell it from what was. */
  async #askForServices(devicePath: string): Promise<void> {
    for (const [path, interfaces] of await this.#managedObjects())
      if (path.startsWith(`${devicePath}/`)) this.#add(path, interfaces);
  }

  async #ownerOfBluez(): Promise<string> {
    const ask = () => this.#askBus('GetNameOwner', 's', 'org.bluez');
    const [owner] = await ask().catch(async (error: unknown) => {
      if (!(error instanceof CallFailure && error.errorName.endsWith('.NameHasNoOwner'))) throw error;
      // Where the system starts it on demand.
      await this.#askBus('StartServiceByName', 'su', 'org.bluez', 0);
      return ask();
    });
    return textOf(owner);
  }

  #askBus(member: string, signature: string, ...body: readonly unknown[]): Promise<readonly unknown[]> {
    const bus = 'org.freedesktop.DBus';
    const path = '/org/freedesktop/DBus';
    const limitMs = limits.word;
    return this.#bus!.call({ destination: bus, path, interfaceName: bus, member, signature, body, limitMs });
  }

  #chooseAdapter(): void {
    const adapters = this.#objects.pathsOf(names.adapter);
    const isOn = (path: string): boolean => this.#objects.get(path, names.adapter)?.['Powered'] === true;
    const chosen =
      this.#adapterIndex === null
        ? (adapters.find(isOn) ?? adapters[0])
        : adapters.find((path) => path.endsWith(`/hci${this.#adapterIndex}`));
    if (chosen === undefined) {
      this.#problem('noAdapter', null);
      return;
    }
    const roles = this.#objects.get(chosen, names.adapter)?.['Roles'];
    if (roles !== undefined && !listOf(roles).includes('central')) {
      this.#problem('unsupported', null);
      return;
    }
    this.#adapter = chosen;
    if (!isOn(chosen)) {
      this.#problem('adapterOff', null);
      return;
    }
    this.#emit({ type: 'on', abilities: { linkParameters: 'system', bonds: 'system' } });
    for (const path of this.#objects.pathsOf(names.device, `${chosen}/`)) this.#tellBond(path);
    this.#heldTimer = setInterval(() => this.#tellHeld(), heldEveryMs);
  }

  /** Once; the process is of no more use then, and the hub starts another. */
  #problem(problem: RadioProblem, reason: Said | null): void {
    if (this.#isOver) return;
    this.#isOver = true;
    clearInterval(this.#heldTimer);
    this.#links.clear();
    this.#emit({ type: 'problem', problem, reason });
  }

  handle(command: RadioCommand): void {
    if (this.#isOver) return;
    carryOut(this.#parts, command);
  }

  // What bluetoothd tells

  #onSignal({ path, member, interfaceName, body, atMs }: BusSignal): void {
    if (this.#isOver) return;
    if (member === 'NameOwnerChanged') {
      if (body[0] === 'org.bluez') this.#problem('noDaemon', null);
    } else if (interfaceName === names.objectManager && member === 'InterfacesAdded') {
      const added = textOf(body[0]);
      this.#add(added, (body[1] ?? {}) as Record<string, Properties>);
      const device = this.#objects.get(added, names.device);
      if (device?.['RSSI'] !== undefined) this.#onHeard(added, device, atMs);
    } else if (interfaceName === names.objectManager && member === 'InterfacesRemoved') {
      this.#onRemoved(textOf(body[0]), listOf(body[1]));
    } else if (interfaceName === names.properties && member === 'PropertiesChanged') {
      this.#onChanged(path, textOf(body[0]), plainEach((body[1] ?? {}) as Properties), listOf(body[2]), atMs);
    } else if (interfaceName === names.device && member === 'Disconnected') {
      const link = this.#linkOfDevice(path);
      if (link !== undefined) link.lastWord = endOf(textOf(body[0]));
    }
    this.#wake();
  }

  #add(path: string, interfaces: Readonly<Record<string, Properties>>): void {
    for (const [name, properties] of Object.entries(interfaces))
      this.#objects.add(path, name, plainEach(properties));
  }

  #onRemoved(path: string, interfaceNames: readonly string[]): void {
    this.#objects.remove(path, interfaceNames);
    if (path === this.#adapter && interfaceNames.includes(names.adapter)) {
      this.#problem('noAdapter', null);
    } else if (interfaceNames.includes(names.device)) {
      this.#lastAdvertisedAtMs.delete(path);
      this.#keyDoubts.forget(path);
      const link = this.#linkOfDevice(path);
      if (link !== undefined) this.#end(link, link.lastWord ?? said('link.noneThere'));
    }
  }

  #onChanged(
    path: string,
    interfaceName: string,
    changed: Properties,
    unknown: readonly string[],
    atMs: number,
  ): void {
    const before = this.#objects.get(path, interfaceName);
    this.#objects.change(path, interfaceName, changed, unknown);
    if (interfaceName === names.characteristic) {
      if (changed['Value'] !== undefined) this.#onValue(path, bytesOf(changed['Value']), atMs);
    } else if (interfaceName === names.device) {
      this.#onDeviceChanged(path, before, changed, atMs);
    } else if (interfaceName === names.battery) {
      this.#tellCharge(path);
    } else if (path === this.#adapter && interfaceName === names.adapter) {
      if (changed['Powered'] === false) this.#problem('adapterOff', null);
    }
  }

  #onDeviceChanged(path: string, before: Properties | undefined, changed: Properties, atMs: number): void {
    if (!path.startsWith(`${this.#adapter}/`)) return;
    const device = this.#objects.get(path, names.device)!;
    if (changed['Address'] !== undefined && before?.['Address'] !== undefined) {
      const peripheralId = peripheralIdOf(textOf(before['Address']));
      const identity = peripheralIdOf(textOf(changed['Address']));
      if (peripheralId !== identity) this.#emit({ type: 'identified', peripheralId, identity });
    }
    if (changed['Paired'] !== undefined || changed['Bonded'] !== undefined) this.#tellBond(path);
    if (changed['Paired'] === true) {
      const link = this.#linkOfDevice(path);
      if (link !== undefined) this.#agent?.overFor(link.linkId);
    }
    if (changed['Connected'] === true) this.#keyDoubts.linked(path, atMs);
    if (changed['ServicesResolved'] === true) this.#keyDoubts.answered(path);
    if (changed['Connected'] === false) {
      this.#keyDoubts.ended(path, device['Paired'] === true, atMs);
      const link = this.#linkOfDevice(path);
      if (link?.state === 'open')
        this.#end(link, link.lastWord ?? this.#keyWord(path) ?? said('link.noReason'));
    }
    const heard = ['RSSI', 'ManufacturerData', 'ServiceData'].some((name) => changed[name] !== undefined);
    if (heard) this.#onHeard(path, device, atMs);
  }

  #onHeard(path: string, device: Properties, atMs: number, isHeld = false): void {
    if (this.#adapter === '' || !path.startsWith(`${this.#adapter}/`)) return;
    const peripheralId = peripheralIdOf(textOf(device['Address']));
    const heardAtMs = this.#lastAdvertisedAtMs.get(path);
    if (heardAtMs !== undefined && atMs - heardAtMs < advertisementEveryMs) return;
    const services = [
      ...listOf(device['UUIDs']),
      ...Object.keys((device['ServiceData'] ?? {}) as Readonly<Record<string, unknown>>),
    ].map(shortUuid);
    const name = typeof device['Name'] === 'string' ? device['Name'] : null;
    if (!this.#isOfInterest(peripheralId, name, services)) return;
    this.#lastAdvertisedAtMs.set(path, atMs);
    const rssiDbm = device['RSSI'];
    this.#emit({
      type: 'advertisement',
      peripheralId,
      name,
      services: [...new Set(services)],
      rssiDbm: isHeld || typeof rssiDbm !== 'number' ? null : rssiDbm,
      connectable: true,
      atMs: processMs(atMs),
    });
  }

  /** Links that outlived an earlier radio process, or that another program made, are taken over. */
  #tellHeld(): void {
    if (!this.#scanWanted) return;
    for (const path of this.#objects.pathsOf(names.device, `${this.#adapter}/`)) {
      const device = this.#objects.get(path, names.device)!;
      if (device['Connected'] === true && this.#linkOfDevice(path) === undefined)
        this.#onHeard(path, device, performance.now(), true);
    }
  }

  #isOfInterest(id: string, name: string | null, services: readonly string[]): boolean {
    const { services: wanted, namePrefixes, peripheralIds } = this.#interest;
    if (wanted.length + namePrefixes.length + peripheralIds.length === 0) return true;
    return (
      peripheralIds.includes(id) ||
      services.some((service) => wanted.includes(service)) ||
      (name !== null && namePrefixes.some((prefix) => name.startsWith(prefix)))
    );
  }

  #tellBond(path: string): void {
    const device = this.#objects.get(path, names.device);
    if (device === undefined) return;
    // `Bonded` since BlueZ 5.65; before, what is paired over Low Energy is kept.
    const isKept = (device['Bonded'] ?? device['Paired']) === true;
    this.#emit({ type: 'bond', peripheralId: peripheralIdOf(textOf(device['Address'])), isKept });
  }

  #onValue(path: string, bytes: Uint8Array, atMs: number): void {
    for (const link of this.#links.values()) {
      const characteristic = link.subscribed.get(path);
      if (characteristic === undefined || link.state !== 'open') continue;
      const reading = link.reading.get(path);
      if (reading !== undefined) reading.push({ bytes, atMs });
      else this.#notify(link, characteristic, bytes, processMs(atMs));
    }
  }

  #notify(link: OpenLink, characteristic: string, bytes: Uint8Array, atMs: ProcessMs): void {
    link.sequence += 1;
    this.#emit({
      type: 'notification',
      linkId: link.linkId,
      characteristic,
      sequence: link.sequence,
      bytes,
      atMs,
    });
  }

  // Scanning

  /** One thing after another: bluetoothd refuses a beginning while an end is under way. */
  #setScan(on: boolean): void {
    const refresh = on && this.#scanWanted;
    this.#scanWanted = on;
    this.#scanWork = this.#scanWork
      .then(() => this.#carryOutScan(refresh))
      .catch((error: unknown) => {
        const failure = failureOf(error);
        const { problem, reason } = problemOfFailure(failure);
        this.#scanning = false;
        // A refusal is no reason to drop links: it is asked again. Silence is.
        if (problem !== 'radioProcessFailed') this.#problem(problem, reason);
      });
  }

  async #carryOutScan(refresh: boolean): Promise<void> {
    if (this.#isOver) return;
    if (this.#scanning && (refresh || !this.#scanWanted)) {
      this.#scanning = false;
      await this.#call(this.#adapter, names.adapter, 'StopDiscovery').catch((error: unknown) => {
        // Nothing to stop is as well.
        if (!(error instanceof CallFailure && error.errorName.startsWith('org.bluez.Error.'))) throw error;
      });
    }
    if (!this.#scanWanted || this.#scanning || this.#isOver) return;
    await this.#call(this.#adapter, names.adapter, 'SetDiscoveryFilter', 'a{sv}', {
      Transport: ofType('s', 'le'),
      DuplicateData: ofType('b', true),
    });
    this.#scanning = true;
    await this.#call(this.#adapter, names.adapter, 'StartDiscovery').catch((error: unknown) => {
      // It goes on already.
      if (!(error instanceof CallFailure && error.errorName === 'org.bluez.Error.InProgress')) throw error;
    });
  }

  // Links

  async #connect(linkId: string, peripheralId: string): Promise<void> {
    const failed = (reason: Said): void => this.#emit({ type: 'connectFailed', linkId, reason });
    const path = this.#objects.deviceOf(this.#adapter, peripheralId);
    if (path === undefined) {
      failed(said('link.notHeardSinceStart'));
      return;
    }
    if (this.#linkOfDevice(path) !== undefined) {
      failed(said('link.openAlready'));
      return;
    }
    const link: OpenLink = {
      linkId,
      path,
      state: 'connecting',
      subscribed: new Map(),
      reading: new Map(),
      triedPairing: false,
      asking: null,
      pairingWord: null,
      lastWord: null,
      sequence: 0,
    };
    this.#links.set(linkId, link);
    try {
      await this.#scanWork;
      await this.#readyToPair(link);
      await this.#call(path, names.device, 'Connect', '', undefined, limits.connect).catch(
        (error: unknown) => {
          if (!(error instanceof CallFailure && error.errorName === 'org.bluez.Error.AlreadyConnected'))
            throw error;
        },
      );
    } catch (error) {
      const { reason, isLimit } = connectFailureOf(failureOf(error));
      const why = isLimit ? reason : (this.#keyWord(path) ?? reason);
      this.#endAttempt(link, isCancelled(link) ? said('link.givenUp') : why, isLimit);
      return;
    }
    if (isCancelled(link)) {
      this.#letGo(path);
      this.#endAttempt(link, said('link.givenUp'), false);
    } else if (this.#links.get(linkId) === link) {
      link.state = 'open';
      this.#emit({ type: 'connected', linkId });
      if (await this.#isConnected(path)) return;
      this.#letGo(path);
      this.#end(link, this.#keyWord(path) ?? said('link.notEstablished'));
    }
  }

  #keyWord(path: string): Said | null {
    return this.#keyDoubts.isLikely(path) ? said('link.keyDoubted') : null;
  }

  /** A link may have ended between the answer and now; and bluetoothd does not tell every link that it has made. */
  async #isConnected(path: string): Promise<boolean> {
    const isTold = (): boolean => this.#objects.get(path, names.device)?.['Connected'] === true;
    if (isTold()) return true;
    const [properties] = await this.#call(path, names.properties, 'GetAll', 's', names.device).catch(
      () => [],
    );
    if (properties !== undefined)
      this.#objects.change(path, names.device, plainEach(properties as Properties), []);
    await this.#until(isTold, limits.connectedWord);
    return isTold();
  }

  /** Our agent has to be there before a sensor without a key asks for one. */
  async #readyToPair(link: OpenLink): Promise<void> {
    if (this.#objects.get(link.path, names.device)?.['Paired'] === true) return;
    // Who may not be an agent can still use sensors that need none.
    await this.#agent?.holdDefault().catch(() => undefined);
  }

  #endAttempt(link: OpenLink, reason: Said, isLimit: boolean): void {
    if (link.state === 'ended') return;
    this.#close(link);
    this.#emit({ type: 'connectFailed', linkId: link.linkId, reason, ...(isLimit ? { isLimit } : {}) });
  }

  #cancel(linkId: string): void {
    const link = this.#links.get(linkId);
    if (link?.state !== 'connecting') return;
    link.state = 'cancelling';
    // The attempt's own answer, an error, is what ends it.
    this.#letGo(link.path);
  }

  #disconnect(linkId: string): void {
    const link = this.#links.get(linkId);
    if (link === undefined) {
      this.#emit({ type: 'disconnected', linkId, reason: said('link.noSuchLink') });
    } else if (link.state === 'open') {
      link.lastWord = said('link.hubEnded');
      this.#call(link.path, names.device, 'Disconnect', '', undefined, limits.disconnect).then(
        () => this.#end(link, said('link.hubEnded')),
        // The link logic loses patience where nothing is told.
        () => undefined,
      );
    } else {
      this.#cancel(linkId);
    }
  }

  #letGo(path: string): void {
    this.#call(path, names.device, 'Disconnect', '', undefined, limits.disconnect).catch(() => undefined);
  }

  #end(link: OpenLink, reason: Said): void {
    if (link.state !== 'open') return;
    const { linkId, asking, pairingWord } = link;
    const isPaired = this.#objects.get(link.path, names.device)?.['Paired'] === true;
    this.#close(link);
    // A pairing that fails takes the link with it, and what was asked is never answered.
    const failed = isPaired ? null : pairingWord;
    if (failed !== null && asking !== null)
      this.#emit({ type: 'stepFailed', linkId, step: asking, refusal: 'locked', reason: failed });
    this.#emit({ type: 'disconnected', linkId, reason: failed ?? reason });
  }

  #close(link: OpenLink): void {
    link.state = 'ended';
    this.#links.delete(link.linkId);
    this.#lastAdvertisedAtMs.delete(link.path);
    this.#agent?.overFor(link.linkId);
    // bluetoothd remembers who listened and would listen again by itself on the next link, before it is asked to.
    for (const path of link.subscribed.keys())
      if (!path.endsWith(batteryPathEnd))
        this.#call(path, names.characteristic, 'StopNotify').catch(() => undefined);
    this.#wake();
  }

  async #forgetBond(peripheralId: string): Promise<void> {
    const path = this.#objects.deviceOf(this.#adapter, peripheralId);
    if (path === undefined) {
      this.#emit({ type: 'bond', peripheralId, isKept: false });
      return;
    }
    try {
      await this.#call(this.#adapter, names.adapter, 'RemoveDevice', 'o', path);
      this.#emit({ type: 'bond', peripheralId, isKept: false });
    } catch {
      this.#tellBond(path);
    }
  }

  // Questions to a sensor

  async #step(link: OpenLink, command: StepCommand): Promise<void> {
    link.asking = command.type;
    try {
      await this.#ask(link, command);
      link.asking = null;
    } catch (error) {
      link.asking = null;
      if (link.state !== 'open') return;
      const { refusal, reason } =
        error instanceof StepRefusal
          ? { refusal: error.refusal, reason: error.said }
          : refusalOf(failureOf(error));
      this.#emit({ type: 'stepFailed', linkId: link.linkId, step: command.type, refusal, reason });
    }
  }

  /** A lock is answered by pairing, once a link; what was locked is asked again then. */
  async #ask(link: OpenLink, command: StepCommand): Promise<void> {
    try {
      // What is asked of a sensor that sends already is seldom locked, and the desktop need not step aside for it.
      if (command.type === 'discover' || command.type === 'subscribe') await this.#readyToPair(link);
      await this.#askOnce(link, command);
    } catch (error) {
      const isLocked = error instanceof CallFailure && refusalOf(error).refusal === 'locked';
      if (!isLocked || link.state !== 'open' || link.triedPairing) throw error;
      link.triedPairing = true;
      await this.#pair(link);
      await this.#askOnce(link, command);
    }
  }

  async #pair(link: OpenLink): Promise<void> {
    // With a key and locked all the same, pairing again would be refused: a person has to have the key forgotten.
    if (this.#objects.get(link.path, names.device)?.['Paired'] === true)
      throw new StepRefusal('locked', said('link.lockedAfterPairing'));
    try {
      await this.#agent?.register();
      await this.#call(link.path, names.device, 'Pair', '', undefined, limits.pair);
    } catch (error) {
      throw new StepRefusal('locked', pairingFailureOf(failureOf(error)));
    } finally {
      this.#agent?.overFor(link.linkId);
    }
  }

  async #askOnce(link: OpenLink, command: StepCommand): Promise<void> {
    switch (command.type) {
      case 'discover':
        return this.#discover(link, command.services);
      case 'subscribe':
        return this.#subscribe(link, command.service, command.characteristic);
      case 'read':
        return this.#read(link, command.service, command.characteristic);
      case 'write': {
        const { service, characteristic, bytes, withResponse } = command;
        const [found] = this.#find(link, service, characteristic);
        const options = { type: ofType('s', withResponse ? 'request' : 'command') };
        const body = [Buffer.from(bytes), options];
        await this.#callWith(
          found!.path,
          names.characteristic,
          'WriteValue',
          'aya{sv}',
          body,
          limits.question,
        );
        if (link.state === 'open') this.#emit({ type: 'written', linkId: link.linkId, characteristic });
      }
    }
  }

  async #discover(link: OpenLink, wanted: readonly string[]): Promise<void> {
    const isListed = (): boolean => this.#objects.get(link.path, names.device)?.['ServicesResolved'] === true;
    await this.#until(() => isListed() || link.state !== 'open', limits.services);
    if (link.state !== 'open') return;
    if (!isListed()) throw new StepRefusal('noAnswer', said('link.servicesLate'));
    // bluetoothd may say that all is there before it has told of each service, above all where the machine is loaded.
    await this.#askForServices(link.path).catch(() => undefined);
    if (link.state !== 'open') return;
    const characteristics = this.#tableOf(link)
      .filter(({ service }) => wanted.length === 0 || wanted.includes(service))
      .map(({ service, characteristic, properties }) => ({ service, characteristic, properties }));
    this.#emit({ type: 'discovered', linkId: link.linkId, characteristics });
  }

  /** bluetoothd may keep a battery service to itself and tell the charge alone. */
  #tableOf(link: OpenLink): readonly Found[] {
    const found = this.#objects.characteristicsOf(link.path);
    const hasBattery = this.#objects.get(link.path, names.battery) !== undefined;
    if (!hasBattery || found.some(({ characteristic }) => characteristic === assigned.batteryLevel))
      return found;
    return [
      ...found,
      {
        service: assigned.battery,
        characteristic: assigned.batteryLevel,
        // Not to be read: the answer would be bluetoothd's, and no sign that the sensor is there.
        properties: ['notify'],
        path: link.path + batteryPathEnd,
      },
    ];
  }

  /** All of that name: a sensor may have one twice, and which of them lives shows only when it sends. */
  #find(link: OpenLink, service: string, characteristic: string): readonly Found[] {
    const found = this.#tableOf(link).filter(
      (known) => known.service === service && known.characteristic === characteristic,
    );
    if (found.length === 0)
      throw new StepRefusal('missing', said('link.noCharacteristic', { characteristic }));
    return found;
  }

  async #subscribe(link: OpenLink, service: string, characteristic: string): Promise<void> {
    const found = this.#find(link, service, characteristic);
    const outcomes = await Promise.allSettled(
      found.map(async ({ path }) => {
        // Before the call: the first value may come before its answer.
        link.subscribed.set(path, characteristic);
        if (path.endsWith(batteryPathEnd)) {
          this.#tellCharge(link.path);
          return;
        }
        try {
          await this.#startNotify(path);
        } catch (error) {
          link.subscribed.delete(path);
          throw error;
        }
      }),
    );
    const failure = outcomes.find((outcome) => outcome.status === 'rejected');
    if (failure !== undefined && outcomes.every(({ status }) => status === 'rejected')) throw failure.reason;
    if (link.state === 'open') this.#emit({ type: 'subscribed', linkId: link.linkId, characteristic });
  }

  #tellCharge(devicePath: string): void {
    const percent = this.#objects.get(devicePath, names.battery)?.['Percentage'];
    if (typeof percent === 'number')
      this.#onValue(devicePath + batteryPathEnd, Uint8Array.of(percent), performance.now());
  }

  async #startNotify(path: string): Promise<void> {
    const start = () => this.#call(path, names.characteristic, 'StartNotify', '', undefined, limits.question);
    try {
      await start();
    } catch (error) {
      if (!(error instanceof CallFailure && error.errorName === 'org.bluez.Error.InProgress')) throw error;
      // It still counts us as a listener, of an earlier link perhaps.
      await this.#call(path, names.characteristic, 'StopNotify').catch(() => undefined);
      await start();
    }
  }

  async #read(link: OpenLink, service: string, characteristic: string): Promise<void> {
    const [found] = this.#find(link, service, characteristic);
    const { path } = found!;
    link.reading.set(path, []);
    let bytes: Uint8Array;
    try {
      const [value] = await this.#call(path, names.characteristic, 'ReadValue', 'a{sv}', {}, limits.question);
      bytes = bytesOf(plain(value));
      this.#passOnBeside(link, path, characteristic, bytes);
    } catch (error) {
      this.#passOnBeside(link, path, characteristic, null);
      throw error;
    }
    if (link.state !== 'open') return;
    const atMs = processMs(performance.now());
    this.#emit({ type: 'readDone', linkId: link.linkId, characteristic, bytes, atMs });
  }

  /** What came during a read: notifications, and once the value that was read. */
  #passOnBeside(link: OpenLink, path: string, characteristic: string, read: Uint8Array | null): void {
    const values = link.reading.get(path) ?? [];
    link.reading.delete(path);
    const echo = read === null ? -1 : values.findLastIndex(({ bytes }) => Buffer.compare(bytes, read) === 0);
    for (const [index, { bytes, atMs }] of values.entries())
      if (index !== echo && link.state === 'open') this.#notify(link, characteristic, bytes, processMs(atMs));
  }

  // The rest

  /** Closes every link; resolves when all have ended or `limitMs` has passed. */
  async close(limitMs: number): Promise<void> {
    const deadline = new Promise<void>((resolve) => setTimeout(resolve, limitMs));
    clearInterval(this.#heldTimer);
    if (this.#bus === null) return;
    const farewells = [...this.#links.values()].map(({ path }) =>
      this.#call(path, names.device, 'Disconnect', '', undefined, limitMs).catch(() => undefined),
    );
    this.#setScan(false);
    await Promise.race([deadline, Promise.all([...farewells, this.#scanWork, this.#agent?.release()])]);
    this.#bus.close();
  }

  #linkOfDevice(path: string): OpenLink | undefined {
    return [...this.#links.values()].find((link) => link.path === path && link.state !== 'ended');
  }

  #call(
    path: string,
    interfaceName: string,
    member: string,
    signature = '',
    value?: unknown,
    limitMs: number = limits.word,
  ): Promise<readonly unknown[]> {
    return this.#callWith(
      path,
      interfaceName,
      member,
      signature,
      value === undefined ? [] : [value],
      limitMs,
    );
  }

  #callWith(
    path: string,
    interfaceName: string,
    member: string,
    signature: string,
    body: readonly unknown[],
    limitMs: number,
  ): Promise<readonly unknown[]> {
    const bus = this.#bus;
    if (bus === null) return Promise.reject(new CallFailure(busEnded, 'none'));
    return bus.call({ path, interfaceName, member, signature, body, limitMs });
  }

  #until(isMet: () => boolean, limitMs: number): Promise<void> {
    if (isMet()) return Promise.resolve();
    return new Promise((resolve) => {
      const waiter = {
        isMet,
        resolve: () => {
          clearTimeout(timer);
          resolve();
        },
      };
      const timer = setTimeout(() => {
        this.#waiters = this.#waiters.filter((other) => other !== waiter);
        resolve();
      }, limitMs);
      this.#waiters.push(waiter);
    });
  }

  #wake(): void {
    const met = this.#waiters.filter(({ isMet }) => isMet());
    this.#waiters = this.#waiters.filter((waiter) => !met.includes(waiter));
    for (const { resolve } of met) resolve();
  }
}

const wordOf: Readonly<Record<PairingOutcome, Said>> = {
  answered: said('link.pairingFailed'),
  cancelled: said('link.pairingCancelled'),
  late: said('link.pairingLate'),
};

/** Asked of the object: its state changes while calls are waited for. */
const isCancelled = (link: OpenLink): boolean => link.state === 'cancelling';

const plainEach = (properties: Properties): Properties =>
  Object.fromEntries(Object.entries(properties).map(([name, value]) => [name, plain(value)]));
