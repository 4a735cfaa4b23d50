// Speaks the radio port on top of a Bluetooth library, inside the radio process. Stamps arrivals, keeps one listener
// on each characteristic, and reports the end of every attempt exactly once. It has no timeouts and no policy: those
// belong to the link logic on the other side of the pipe.

import { type Said, said } from '../../../shared/said.ts';
import { processMs } from '../../../shared/units.ts';
import { AttClient, AttRefusal } from './att-client.ts';
import type { Noble, NobleCharacteristic, NoblePeripheral } from './noble-library.ts';
import type { RadioCommand, RadioEvent, RadioProblem, ScanInterest } from './radio.ts';
import { carryOut, type RadioParts, type StepCommand } from './radio-commands.ts';
import { problemOf } from './radio-notice.ts';
import { shortUuid } from './uuid.ts';

interface OpenLink {
  readonly linkId: string;
  readonly peripheral: NoblePeripheral;
  state: 'connecting' | 'cancelling' | 'open' | 'ended';
  readonly characteristics: Map<string, NobleCharacteristic>;
  /** Where the library speaks HCI itself; elsewhere the system does, and is asked through the library. */
  att: AttClient | null;
  sequence: number;
}

/** How often one sensor's advertisements are passed on: often enough for "fresh", rare enough for a crowded room. */
const advertisementEveryMs = 200;
/** Peripherals that the library keeps for ever are dropped after this silence (rotating addresses). */
const purgeAfterMs = 60_000;
/** An adapter says within milliseconds that scanning has begun or ended. */
const scanWordMs = 500;
const cancelPollMs = 20;
/** For a command under way when its link is to be closed: a few connection intervals. */
const stopCommandLimitMs = 1_000;
/** A library that has not said anything about its adapter by then has found none. macOS may be asking the user. */
const stateTimeoutMs = process.platform === 'darwin' ? 20_000 : 5_000;
/** It is waited in pieces, between which what has been said is read: a process that stood still has not listened. */
const statePieces = 20;

/** Runs until the process ends. `emit` receives everything; times are `performance.now()` of this process. */
export class NobleRadio {
  readonly #noble: Noble;
  readonly #emit: (event: RadioEvent) => void;
  readonly #links = new Map<string, OpenLink>();
  readonly #lastAdvertisedAtMs = new Map<string, number>();
  readonly #known = new Map<string, NoblePeripheral>();
  #interest: ScanInterest = { services: [], namePrefixes: [], peripheralIds: [] };
  #scanWanted = false;
  #scan: 'off' | 'starting' | 'on' | 'stopping' = 'off';
  #scanSinceMs = 0;
  #on = false;
  #purgeTimer: NodeJS.Timeout | undefined;
  /** The library keeps no keys and asks nobody for a code. */
  readonly #parts: RadioParts = {
    setInterest: (interest) => {
      this.#interest = interest;
    },
    setScan: (on) => this.#setScan(on),
    connect: (linkId, peripheralId) => this.#connect(linkId, peripheralId),
    cancel: (linkId) => this.#cancel(linkId),
    disconnect: (linkId) => this.#disconnect(linkId),
    step: (command) => this.#begin(command),
  };
  #stateTimer: NodeJS.Timeout | undefined;
  readonly #stateTimeoutMs: number;

  constructor(noble: Noble, emit: (event: RadioEvent) => void, limitMs = stateTimeoutMs) {
    this.#noble = noble;
    this.#emit = emit;
    this.#stateTimeoutMs = limitMs;
  }

  start(): void {
    const noble = this.#noble;
    noble.on('warning', (message: unknown) => {
      const text = String(message);
      if (/initiali[sz]ation/i.test(text)) this.#problem(problemOf(text), said('said.asTold', { text }));
    });
    noble.on('discover', (peripheral: NoblePeripheral) => this.#onDiscover(peripheral));
    noble.on('scanStart', () => {
      if (this.#scan === 'starting') this.#scan = 'on';
      if (!this.#scanWanted) this.#stopScan();
    });
    noble.on('scanStop', () => {
      if (this.#scan !== 'stopping') return;
      this.#scan = 'off';
      if (this.#scanWanted) this.#startScan();
    });
    let pieces = 0;
    this.#stateTimer = setInterval(() => {
      pieces += 1;
      if (pieces >= statePieces) this.#problem('noAdapter', said('radio.noAnswer'));
    }, this.#stateTimeoutMs / statePieces);
    this.#purgeTimer = setInterval(() => this.#purge(), purgeAfterMs / 4);
    // A link that came to be after its attempt was given up belongs to nobody, and keeps its sensor from advertising.
    noble._bindings?.on?.('connect', (id: string, error: unknown) => {
      const owned = [...this.#links.values()].some((link) => link.peripheral.id === id);
      if (!error && !owned) noble._bindings?.disconnect?.(id);
    });
    // The library begins its work when this listener is added.
    noble.on('stateChange', (state: string) => this.#onState(state));
  }

  #onState(state: string): void {
    if (state === 'unknown' || state === 'resetting') return;
    clearInterval(this.#stateTimer);
    if (state === 'poweredOn') {
      if (this.#on) return;
      this.#on = true;
      this.#emit({ type: 'on' });
    } else if (state === 'unauthorized') this.#problem('noPermission', null);
    else if (state === 'unsupported') this.#problem('unsupported', null);
    else this.#problem('adapterOff', null);
  }

  #problem(problem: RadioProblem, reason: Said | null): void {
    clearInterval(this.#stateTimer);
    this.#on = false;
    this.#links.clear();
    this.#emit({ type: 'problem', problem, reason });
  }

  handle(command: RadioCommand): void {
    carryOut(this.#parts, command);
  }

  #begin(command: StepCommand): void {
    const link = this.#links.get(command.linkId);
    if (link?.state !== 'open') return;
    this.#step(link, command).catch((error: unknown) => {
      if (link.state !== 'open') return;
      this.#emit({
        type: 'stepFailed',
        linkId: link.linkId,
        step: command.type,
        reason: error instanceof AttRefusal ? error.said : told(messageOf(error)),
        refusal: error instanceof AttRefusal ? error.kind : 'refused',
      });
    });
  }

  #setScan(on: boolean): void {
    this.#scanWanted = on;
    if (!on) this.#stopScan();
    else if (this.#scan === 'off') this.#startScan();
    // Already scanning: end it, and `scanStop` begins it anew.
    else if (this.#scan === 'on') this.#stopScan();
    // A beginning or an end that the adapter refused is never told by the library: it is asked again.
    else if (performance.now() - this.#scanSinceMs >= scanWordMs) this.#startScan();
  }

  #startScan(): void {
    if (!this.#on) return;
    this.#scan = 'starting';
    this.#scanSinceMs = performance.now();
    try {
      this.#noble.startScanning([], true);
    } catch {
      this.#scan = 'off';
    }
  }

  #stopScan(): void {
    if (this.#scan === 'off') return;
    this.#scan = 'stopping';
    this.#scanSinceMs = performance.now();
    this.#noble.stopScanning();
  }

  #onDiscover(peripheral: NoblePeripheral): void {
    const nowMs = performance.now();
    const heardAtMs = this.#lastAdvertisedAtMs.get(peripheral.id);
    this.#known.set(peripheral.id, peripheral);
    if (heardAtMs !== undefined && nowMs - heardAtMs < advertisementEveryMs) return;
    this.#lastAdvertisedAtMs.set(peripheral.id, nowMs);
    const advertisement = peripheral.advertisement ?? {};
    const services = [
      ...(advertisement.serviceUuids ?? []),
      ...(advertisement.serviceData ?? []).map((data) => data.uuid),
    ].map(shortUuid);
    const name = advertisement.localName ?? null;
    if (!this.#isOfInterest(peripheral.id, name, services)) return;
    this.#emit({
      type: 'advertisement',
      peripheralId: peripheral.id,
      name,
      services: [...new Set(services)],
      rssiDbm: peripheral.rssi ?? null,
      connectable: peripheral.connectable !== false,
      atMs: processMs(nowMs),
    });
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

  #connect(linkId: string, peripheralId: string): void {
    const peripheral = this.#known.get(peripheralId);
    if (peripheral === undefined) {
      this.#emit({
        type: 'connectFailed',
        linkId,
        reason: said('link.notHeardSinceStart'),
      });
      return;
    }
    const other = [...this.#links.values()].find((link) => link.peripheral.id === peripheralId);
    if (other !== undefined) {
      this.#emit({ type: 'connectFailed', linkId, reason: said('link.openAlready') });
      return;
    }
    const link: OpenLink = {
      linkId,
      peripheral,
      state: 'connecting',
      characteristics: new Map(),
      att: null,
      sequence: 0,
    };
    this.#links.set(linkId, link);
    // The library reuses its objects, and its listeners pile up on them.
    peripheral.removeAllListeners();
    peripheral.on('connect', (error: unknown) => this.#onConnect(link, error));
    peripheral.on('disconnect', (reason: unknown) => {
      this.#end(link, {
        type: link.state === 'open' ? 'disconnected' : 'connectFailed',
        linkId,
        reason: disconnectReason(reason),
      });
    });
    peripheral.state = 'disconnected';
    peripheral.connect();
  }

  #onConnect(link: OpenLink, error: unknown): void {
    if (link.state === 'cancelling' && error) return; // The library's own echo of the cancel; `#cancel` polls for the end.
    if (link.state === 'ended' || link.state === 'open') return;
    if (error) {
      const text = messageOf(error);
      // Connection Limit Exceeded and Limited Resources (Core 5.3 Vol 1 Part F s1.3), as the libraries write codes.
      const isLimit = /\(0x0?[9d]\)|connection limit/i.test(text);
      this.#end(link, { type: 'connectFailed', linkId: link.linkId, reason: connectReason(text), isLimit });
      return;
    }
    link.state = 'open';
    link.att = this.#attOf(link);
    this.#emit({ type: 'connected', linkId: link.linkId });
  }

  #attOf(link: OpenLink): AttClient | null {
    const bindings = this.#noble._bindings;
    const handle = bindings?._handles?.[link.peripheral.id];
    const stream = handle === undefined ? undefined : bindings?._aclStreams?.[handle];
    if (handle === undefined || stream === undefined) return null;
    // The library repeats its own question after pairing, and has none.
    const repeat = bindings?._gatts?.[handle]?.onAclStreamEncryptBinded;
    if (repeat !== undefined) stream.removeListener('encrypt', repeat);
    return new AttClient(stream, (characteristic, bytes) => this.#notify(link, characteristic, bytes));
  }

  #notify(link: OpenLink, characteristic: string, bytes: Uint8Array): void {
    if (link.state !== 'open') return;
    link.sequence += 1;
    this.#emit({
      type: 'notification',
      linkId: link.linkId,
      characteristic,
      sequence: link.sequence,
      bytes: Uint8Array.from(bytes),
      atMs: processMs(performance.now()),
    });
  }

  #cancel(linkId: string): void {
    const link = this.#links.get(linkId);
    if (link?.state !== 'connecting') return;
    link.state = 'cancelling';
    link.peripheral.cancelConnect();
    // Only one of the libraries says when the adapter has given up; both know whether an attempt is pending. However
    // long that takes, the end is told: it is for the link logic to lose patience.
    const poll = setInterval(() => {
      if (link.state !== 'cancelling') {
        clearInterval(poll);
      } else if (!this.#noble._bindings?._pendingConnectionUuid) {
        clearInterval(poll);
        this.#end(link, { type: 'connectFailed', linkId, reason: said('link.givenUp') });
      }
    }, cancelPollMs);
  }

  #disconnect(linkId: string): void {
    const link = this.#links.get(linkId);
    if (link === undefined) {
      this.#emit({ type: 'disconnected', linkId, reason: said('link.noSuchLink') });
    } else if (link.state === 'open') {
      // A command to stop that was just given is to reach the sensor first.
      void (link.att?.written(stopCommandLimitMs) ?? Promise.resolve()).then(() => {
        if (link.state === 'open') link.peripheral.disconnect();
      });
    } else {
      this.#cancel(linkId);
    }
  }

  #end(link: OpenLink, event: RadioEvent): void {
    if (link.state === 'ended') return;
    link.state = 'ended';
    link.att?.end();
    this.#links.delete(link.linkId);
    for (const characteristic of link.characteristics.values()) characteristic.removeAllListeners();
    link.peripheral.removeAllListeners();
    // The next advertisement may be the one to reconnect by: it is not to be held back.
    this.#lastAdvertisedAtMs.set(link.peripheral.id, performance.now() - advertisementEveryMs);
    this.#emit(event);
  }

  async #step(link: OpenLink, command: StepCommand): Promise<void> {
    if (command.type === 'discover') return this.#discover(link, command.services);
    const { service, characteristic } = command;
    const answer = { linkId: link.linkId, characteristic };
    if (command.type === 'subscribe') {
      await (link.att?.subscribe(service, characteristic) ?? this.#subscribe(link, service, characteristic));
      if (link.state === 'open') this.#emit({ type: 'subscribed', ...answer });
    } else if (command.type === 'read') {
      const data = await (link.att?.read(service, characteristic) ??
        characteristicOf(link, service, characteristic).readAsync());
      if (link.state !== 'open') return;
      this.#emit({
        type: 'readDone',
        ...answer,
        bytes: Uint8Array.from(data ?? []),
        atMs: processMs(performance.now()),
      });
    } else {
      const { bytes, withResponse } = command;
      await (link.att?.write(service, characteristic, bytes, withResponse) ??
        characteristicOf(link, service, characteristic).writeAsync(Buffer.from(bytes), !withResponse));
      if (link.state === 'open') this.#emit({ type: 'written', ...answer });
    }
  }

  async #subscribe(link: OpenLink, service: string, characteristic: string): Promise<void> {
    const found = characteristicOf(link, service, characteristic);
    found.removeAllListeners('data');
    found.on('data', (data: Buffer, isNotification: boolean) => {
      if (isNotification) this.#notify(link, characteristic, data);
    });
    await found.subscribeAsync();
  }

  async #discover(link: OpenLink, wanted: readonly string[]): Promise<void> {
    if (link.att !== null) {
      const characteristics = await link.att.discover(wanted);
      if (link.state === 'open') this.#emit({ type: 'discovered', linkId: link.linkId, characteristics });
      return;
    }
    const services = await link.peripheral.discoverServicesAsync([]);
    const found: { service: string; characteristic: string; properties: readonly string[] }[] = [];
    for (const service of services) {
      const serviceUuid = shortUuid(service.uuid);
      if (wanted.length > 0 && !wanted.includes(serviceUuid)) continue;
      if (link.state !== 'open') return;
      for (const characteristic of await service.discoverCharacteristicsAsync([])) {
        const uuid = shortUuid(characteristic.uuid);
        link.characteristics.set(`${serviceUuid}/${uuid}`, characteristic);
        found.push({
          service: serviceUuid,
          characteristic: uuid,
          properties: [...characteristic.properties],
        });
      }
    }
    if (link.state === 'open') {
      this.#emit({ type: 'discovered', linkId: link.linkId, characteristics: found });
    }
  }

  /** Closes every link; resolves when all have ended or `limitMs` has passed. */
  async close(limitMs: number): Promise<void> {
    clearInterval(this.#purgeTimer);
    clearInterval(this.#stateTimer);
    this.#scanWanted = false;
    this.#stopScan();
    for (const linkId of [...this.#links.keys()]) this.#disconnect(linkId);
    const startedAtMs = performance.now();
    while (this.#links.size > 0 && performance.now() - startedAtMs < limitMs) {
      await new Promise((resolve) => setTimeout(resolve, 10));
    }
  }

  /** Makes the library forget peripherals that have gone silent; it never does so itself. */
  #purge(): void {
    const nowMs = performance.now();
    const linked = new Set([...this.#links.values()].map((link) => link.peripheral.id));
    const noble = this.#noble;
    const bindings = noble._bindings;
    for (const [id, heardAtMs] of [...this.#lastAdvertisedAtMs]) {
      if (linked.has(id) || nowMs - heardAtMs < purgeAfterMs) continue;
      this.#lastAdvertisedAtMs.delete(id);
      this.#known.delete(id);
      if (noble._peripherals instanceof Map) noble._peripherals.delete(id);
      else if (noble._peripherals !== undefined) delete noble._peripherals[id];
      const address = id.match(/../g)?.join(':') ?? id;
      for (const map of [
        noble._services,
        noble._characteristics,
        noble._descriptors,
        bindings?._addresses,
        bindings?._addresseTypes,
        bindings?._connectable,
        bindings?.scannable,
      ]) {
        if (map !== undefined) delete map[id];
      }
      if (bindings?._gap?._discoveries !== undefined) delete bindings._gap._discoveries[address];
    }
  }
}

function characteristicOf(link: OpenLink, service: string, characteristic: string): NobleCharacteristic {
  const found = link.characteristics.get(`${service}/${characteristic}`);
  if (found === undefined) throw new AttRefusal('missing', said('link.noCharacteristic', { characteristic }));
  return found;
}

const messageOf = (error: unknown): string => (error instanceof Error ? error.message : String(error));
/** In the words of the library. */
const told = (text: string): Said => said('said.asTold', { text });

/** HCI error codes that end links (Core 5.3 Vol 1 Part F s1.3). */
const disconnectReasons: ReadonlyMap<unknown, Said> = new Map<unknown, Said>([
  [0x08, said('link.outOfRange')],
  [0x13, said('link.sensorEnded')],
  [0x14, said('link.sensorLowOnResources')],
  [0x15, said('link.sensorSwitchingOff')],
  [0x16, said('link.hubEnded')],
  [0x22, said('link.sensorTooLate')],
  [0x3b, said('link.timingRefused')],
  [0x3d, said('link.corrupted')],
  [0x3e, said('link.notEstablished')],
]);
const disconnectReason = (reason: unknown): Said =>
  disconnectReasons.get(reason) ??
  (typeof reason === 'number'
    ? said('link.code', { code: `0x${reason.toString(16)}` })
    : said('link.noReason'));
/** The libraries write the code last. With 0x02 an attempt ends that the kernel did not carry out (kernel-socket.ts). */
function connectReason(text: string): Said {
  const code = Number.parseInt(/\(0x([0-9a-f]{1,2})\)/i.exec(text)?.[1] ?? '', 16);
  return code === 0x02 ? said('link.notEstablished') : (disconnectReasons.get(code) ?? told(text));
}
