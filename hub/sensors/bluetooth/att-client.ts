// Asks a sensor over ATT on a library's link: lists only the services wanted, hears refusals for what they are, and
// lives on when one question is never answered. Section numbers: Bluetooth Core Specification 5.3 Vol 3 Part F and G.

import type { EventEmitter } from 'node:events';
import { type Said, said } from '../../../shared/said.ts';
import type { DiscoveredCharacteristic } from './radio.ts';
import { shortUuid } from './uuid.ts';

/** One link's channels as both libraries keep them. Emits `data` (channel, bytes), `encrypt` (on), `encryptFail`. */
export interface LinkStream extends EventEmitter {
  write(channel: number, bytes: Buffer): void;
  /** Begins pairing without a code ("just works"), as far as the library can. */
  encrypt(): void;
}

const attChannel = 0x0004;
const securityChannel = 0x0006;
const securityRequest = 0x0b;
const opcode = {
  error: 0x01,
  mtuRequest: 0x02,
  mtuResponse: 0x03,
  findInformation: 0x04,
  readByType: 0x08,
  read: 0x0a,
  readBlob: 0x0c,
  readByGroup: 0x10,
  write: 0x12,
  writeCommand: 0x52,
  notification: 0x1b,
  indication: 0x1d,
} as const;
const primaryService = 0x2800;
const characteristicDeclaration = 0x2803;
const clientConfiguration = 0x2902;
/** s3.4.1.1: insufficient authentication, authorization, key size, encryption. */
const securityCodes: readonly number[] = [0x05, 0x08, 0x0c, 0x0f];
const notFound = 0x0a;

/** A transaction may take 30 s by the book (s3.3.3); sensors answer within one, and holds do not wait. */
const answerLimitMs = 5_000;
/** Pairing without a code takes about a second; a sensor that asks for one waits for a person. */
const pairingLimitMs = 6_000;
/** The library opens every link with this question; some sensors never answer it. */
const mtuLimitMs = 2_000;
const longestValue = 512;

/** Why a question came to nothing. */
export class AttRefusal extends Error {
  readonly kind: 'refused' | 'locked' | 'noAnswer' | 'missing';
  readonly said: Said;
  constructor(kind: AttRefusal['kind'], reason: Said) {
    super(reason.code);
    this.said = reason;
    this.kind = kind;
  }
}

interface KnownService {
  readonly uuid: string;
  readonly first: number;
  readonly last: number;
  characteristics: KnownCharacteristic[] | null;
}
interface KnownCharacteristic {
  readonly uuid: string;
  readonly properties: number;
  readonly valueHandle: number;
  readonly last: number;
}

const propertyNames: readonly (readonly [number, string])[] = [
  [0x01, 'broadcast'],
  [0x02, 'read'],
  [0x04, 'writeWithoutResponse'],
  [0x08, 'write'],
  [0x10, 'notify'],
  [0x20, 'indicate'],
];

export class AttClient {
  readonly #stream: LinkStream;
  readonly #onNotification: (characteristic: string, bytes: Buffer) => void;
  readonly #onData = (channel: number, bytes: Buffer): void => this.#take(channel, bytes);
  #services: KnownService[] | null = null;
  readonly #subscribed = new Map<number, string>();
  #mtu = 23;
  /** Questions go one after another (s3.3.2): each waits for the one before, however that ended. */
  #queue: Promise<unknown>;
  #waiting: { readonly request: number; readonly done: (answer: Buffer) => void } | null = null;
  #mtuAnswered: () => void = () => {};
  #writes = 0;
  /** Where a command went that is never answered, until an answer to anything shows that it is there. */
  #unanswered: { readonly handle: number } | null = null;
  #deaf = false;
  #ended = false;
  #secured: Promise<boolean> | null = null;
  #endWaiting: (error: Error) => void = () => {};

  constructor(stream: LinkStream, onNotification: (characteristic: string, bytes: Buffer) => void) {
    this.#stream = stream;
    this.#onNotification = onNotification;
    stream.on('data', this.#onData);
    this.#queue = new Promise<void>((resolve) => {
      const timer = setTimeout(resolve, mtuLimitMs);
      this.#mtuAnswered = () => {
        clearTimeout(timer);
        resolve();
      };
    });
  }

  /** Characteristics of the services named that the sensor has, or of all. What is known is not asked again. */
  async discover(wanted: readonly string[]): Promise<readonly DiscoveredCharacteristic[]> {
    this.#services ??= await this.#listServices();
    const found: DiscoveredCharacteristic[] = [];
    for (const service of this.#services) {
      if (wanted.length > 0 && !wanted.includes(service.uuid)) continue;
      service.characteristics ??= await this.#listCharacteristics(service);
      for (const { uuid, properties } of service.characteristics) {
        found.push({
          service: service.uuid,
          characteristic: uuid,
          properties: propertyNames.flatMap(([bit, name]) => (properties & bit ? [name] : [])),
        });
      }
    }
    return found;
  }

  /** Subscribes to every instance of a characteristic; works if one of them does. */
  async subscribe(service: string, characteristic: string): Promise<void> {
    let refusal: unknown = new AttRefusal('missing', said('link.noCharacteristic', { characteristic }));
    let done = 0;
    for (const known of this.#instances(service, characteristic)) {
      if ((known.properties & 0x30) === 0) continue;
      try {
        this.#subscribed.set(known.valueHandle, characteristic);
        const handle = await this.#configurationOf(known);
        await this.#ask(opcode.write, [...u16(handle), known.properties & 0x10 ? 1 : 2, 0]);
        done += 1;
      } catch (error) {
        refusal = error;
      }
    }
    if (done === 0) throw refusal;
  }

  async read(service: string, characteristic: string): Promise<Buffer> {
    const { valueHandle } = this.#first(service, characteristic);
    let value = (await this.#ask(opcode.read, u16(valueHandle))).subarray(1);
    for (let piece = value; piece.length === this.#mtu - 1 && value.length < longestValue; ) {
      try {
        piece = (await this.#ask(opcode.readBlob, [...u16(valueHandle), ...u16(value.length)])).subarray(1);
      } catch {
        break;
      }
      value = Buffer.concat([value, piece]);
    }
    return value;
  }

  async write(
    service: string,
    characteristic: string,
    bytes: Uint8Array,
    withResponse: boolean,
  ): Promise<void> {
    const { valueHandle } = this.#first(service, characteristic);
    const body = [...u16(valueHandle), ...bytes];
    if (withResponse) {
      this.#writes += 1;
      await this.#ask(opcode.write, body).finally(() => {
        this.#writes -= 1;
      });
    } else {
      this.#unanswered = { handle: valueHandle };
      this.#stream.write(attChannel, Buffer.from([opcode.writeCommand, ...body]));
    }
  }

  /**
   * Resolves when commands under way have reached the sensor, at the latest after `limitMs`. One that is not answered has when a question after
   * it is: a link keeps the order of what is sent, but its end overtakes what the controller still
   * holds (Core, Vol 4 E 4.1.1: such data is flushed; from memory).
   */
  async written(limitMs: number): Promise<void> {
    const unanswered = this.#unanswered;
    if (this.#writes === 0 && unanswered === null) return;
    if (unanswered !== null) {
      const handle = u16(unanswered.handle);
      this.#ask(opcode.findInformation, [...handle, ...handle]).catch(() => {});
    }
    let timer: NodeJS.Timeout | undefined;
    const limit = new Promise<void>((resolve) => {
      timer = setTimeout(resolve, limitMs);
    });
    await Promise.race([this.#queue, limit]);
    clearTimeout(timer);
  }

  end(): void {
    this.#ended = true;
    this.#stream.removeListener('data', this.#onData);
    this.#mtuAnswered();
    this.#endWaiting(new AttRefusal('noAnswer', said('link.ended')));
  }

  #instances(service: string, characteristic: string): readonly KnownCharacteristic[] {
    return (this.#services ?? [])
      .filter(({ uuid }) => uuid === service)
      .flatMap(({ characteristics }) => characteristics ?? [])
      .filter(({ uuid }) => uuid === characteristic);
  }

  #first(service: string, characteristic: string): KnownCharacteristic {
    const found = this.#instances(service, characteristic)[0];
    if (found === undefined)
      throw new AttRefusal('missing', said('link.noCharacteristic', { characteristic }));
    return found;
  }

  async #listServices(): Promise<KnownService[]> {
    const services: KnownService[] = [];
    await this.#sweep(1, 0xffff, opcode.readByGroup, primaryService, 4, (row) => {
      const last = row.readUInt16LE(2);
      services.push({ uuid: uuidAt(row, 4), first: row.readUInt16LE(0), last, characteristics: null });
      return last;
    });
    return services;
  }

  async #listCharacteristics(service: KnownService): Promise<KnownCharacteristic[]> {
    const rows: { uuid: string; properties: number; declaration: number; valueHandle: number }[] = [];
    const { first, last } = service;
    await this.#sweep(first, last, opcode.readByType, characteristicDeclaration, 5, (row) => {
      const declaration = row.readUInt16LE(0);
      rows.push({
        uuid: uuidAt(row, 5),
        properties: row[2]!,
        declaration,
        valueHandle: row.readUInt16LE(3),
      });
      return declaration;
    });
    return rows.map(({ uuid, properties, valueHandle }, at) => ({
      uuid,
      properties,
      valueHandle,
      last: (rows[at + 1]?.declaration ?? last + 1) - 1,
    }));
  }

  /** Asks for rows of a type over a range, piece by piece (Part G s4.4.1, s4.6.1). */
  async #sweep(
    first: number,
    last: number,
    request: number,
    type: number,
    leastRow: number,
    take: (row: Buffer) => number,
  ): Promise<void> {
    for (let from = first; from <= last; ) {
      let answer: Buffer;
      try {
        answer = await this.#ask(request, [...u16(from), ...u16(last), ...u16(type)]);
      } catch (error) {
        if (error instanceof AttRefusal && error.kind === 'missing') return;
        throw error;
      }
      const width = answer[1] ?? 0;
      if (width < leastRow + 2) throw new AttRefusal('refused', said('link.badServiceList'));
      let end = from - 1;
      for (let at = 2; at + width <= answer.length; at += width) {
        end = Math.max(end, take(answer.subarray(at, at + width)));
      }
      // A list that does not move on would never end.
      if (end < from) return;
      from = end + 1;
    }
  }

  /** Handle of a characteristic's switch for notifications (Part G s3.3.3.3). */
  async #configurationOf(known: KnownCharacteristic): Promise<number> {
    for (let from = known.valueHandle + 1; from <= known.last; ) {
      let answer: Buffer;
      try {
        answer = await this.#ask(opcode.findInformation, [...u16(from), ...u16(known.last)]);
      } catch (error) {
        if (error instanceof AttRefusal && error.kind === 'noAnswer') throw error;
        break;
      }
      const width = answer[1] === 1 ? 4 : 18;
      let end = from - 1;
      for (let at = 2; at + width <= answer.length; at += width) {
        end = answer.readUInt16LE(at);
        if (width === 4 && answer.readUInt16LE(at + 2) === clientConfiguration) return end;
      }
      if (end < from) break;
      from = end + 1;
    }
    // Most sensors have it right behind the value; a wrong guess is refused.
    return known.valueHandle + 1;
  }

  /** One question and its answer, after the one before. Pairs once where the sensor asks for it. */
  #ask(request: number, body: readonly number[]): Promise<Buffer> {
    const turn = this.#queue.then(async () => {
      const before = this.#unanswered;
      const answer = await this.#exchange(request, body);
      if (this.#unanswered === before) this.#unanswered = null;
      if (answer[0] !== opcode.error) return answer;
      const code = answer[4] ?? 0;
      if (code === notFound) throw new AttRefusal('missing', said('link.noneThere'));
      if (!securityCodes.includes(code))
        throw new AttRefusal('refused', said('link.refusedWithCode', { code: `0x${code.toString(16)}` }));
      if (!(await this.#secure())) throw new AttRefusal('locked', said('link.locked'));
      const again = await this.#exchange(request, body);
      if (again[0] === opcode.error) throw new AttRefusal('locked', said('link.lockedAfterPairing'));
      return again;
    });
    this.#queue = turn.catch(() => {});
    return turn;
  }

  #exchange(request: number, body: readonly number[]): Promise<Buffer> {
    if (this.#deaf || this.#ended) {
      return Promise.reject(new AttRefusal('noAnswer', said('link.noLongerAnswers')));
    }
    return new Promise<Buffer>((resolve, reject) => {
      const timer = setTimeout(() => {
        // By the book nothing more may be asked on this link (s3.3.3). Notifications still come.
        this.#deaf = true;
        this.#waiting = null;
        reject(new AttRefusal('noAnswer', said('link.didNotAnswer')));
      }, answerLimitMs);
      this.#endWaiting = (error) => {
        clearTimeout(timer);
        reject(error);
      };
      this.#waiting = {
        request,
        done: (answer) => {
          clearTimeout(timer);
          resolve(answer);
        },
      };
      this.#stream.write(attChannel, Buffer.from([request, ...body]));
    });
  }

  /** Pairing as far as the library can; resolves false where it cannot. */
  #secure(): Promise<boolean> {
    this.#secured ??= new Promise<boolean>((resolve) => {
      const end = (worked: boolean) => (): void => {
        clearTimeout(timer);
        this.#stream.removeListener('encrypt', on);
        this.#stream.removeListener('encryptFail', off);
        resolve(worked);
      };
      const on = (encrypted: unknown): void => end(Boolean(encrypted))();
      const off = end(false);
      const timer = setTimeout(off, pairingLimitMs);
      this.#stream.on('encrypt', on);
      this.#stream.on('encryptFail', off);
      this.#stream.encrypt();
    });
    return this.#secured;
  }

  #take(channel: number, bytes: Buffer): void {
    if (channel === securityChannel && bytes[0] === securityRequest) void this.#secure();
    if (channel !== attChannel || bytes.length === 0) return;
    const kind = bytes[0]!;
    if (kind === opcode.notification || kind === opcode.indication) {
      if (bytes.length < 3) return;
      const characteristic = this.#subscribed.get(bytes.readUInt16LE(1));
      if (characteristic !== undefined) this.#onNotification(characteristic, bytes.subarray(3));
      return;
    }
    const isRefusal = kind === opcode.error && bytes.length >= 5;
    if (kind === opcode.mtuResponse || (isRefusal && bytes[1] === opcode.mtuRequest)) {
      if (kind === opcode.mtuResponse && bytes.length >= 3)
        this.#mtu = Math.max(23, Math.min(256, bytes.readUInt16LE(1)));
      this.#mtuAnswered();
      return;
    }
    const waiting = this.#waiting;
    if (waiting === null) return;
    if (kind === waiting.request + 1 || (isRefusal && bytes[1] === waiting.request)) {
      this.#waiting = null;
      waiting.done(bytes);
    }
  }
}

const u16 = (value: number): readonly [number, number] => [value & 0xff, value >> 8];

/** A UUID of two or sixteen bytes, little end first, to the end of the row. */
const uuidAt = (row: Buffer, at: number): string =>
  shortUuid(Buffer.from(row.subarray(at)).reverse().toString('hex'));
