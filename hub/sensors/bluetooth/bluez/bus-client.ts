// The radio process's place on the system's D-Bus: calls that always end, signals as they come, and calls from others.
// Nothing else names the library.

import type { EventEmitter } from 'node:events';
import { DBusError, Message, type MessageBus, MessageType, systemBus, Variant } from '@jellybrick/dbus-next';

/** A call that came to nothing, by the name D-Bus gives it (`org.bluez.Error.NotReady`) and what was said with it. */
export class CallFailure extends Error {
  readonly errorName: string;
  constructor(errorName: string, text: string) {
    super(text);
    this.errorName = errorName;
  }
}

/** Ours: nobody answered in time, or the bus is gone. Neither is a name that D-Bus gives. */
export const unanswered = 'slackwater.NoAnswer';
export const busEnded = 'slackwater.BusEnded';

export interface BusSignal {
  readonly path: string;
  readonly member: string;
  readonly interfaceName: string;
  readonly body: readonly unknown[];
  /** `performance.now()` at which it was read. */
  readonly atMs: number;
}

export interface IncomingCall {
  readonly path: string;
  readonly interfaceName: string;
  readonly member: string;
  readonly sender: string;
  readonly body: readonly unknown[];
  reply(signature?: string, ...body: readonly unknown[]): void;
  refuse(errorName: string): void;
}

export interface BusCall {
  readonly destination?: string;
  readonly path: string;
  readonly interfaceName: string;
  readonly member: string;
  readonly signature?: string;
  readonly body?: readonly unknown[];
  /** The call has failed by then. */
  readonly limitMs: number;
}

const bluez = 'org.bluez';
const helloLimitMs = 5_000;

export class BusClient {
  readonly #bus: MessageBus;
  readonly #waiting = new Set<(failure: CallFailure) => void>();
  #ended: CallFailure | null = null;
  /**
   * Who is believed besides the bus itself: any user of the computer may send signals and calls to any client of the system's
   * bus, and their sender alone cannot be made up. Null before it is known.
   */
  peer: string | null = null;
  onSignal: (signal: BusSignal) => void = () => {};
  /** Answers true when it takes the call. */
  onCall: (call: IncomingCall) => boolean = () => false;
  onEnd: (failure: CallFailure) => void = () => {};

  private constructor(bus: MessageBus) {
    this.#bus = bus;
    bus.on('message', (message) => {
      const atMs = performance.now();
      if (message.type !== MessageType.SIGNAL || !this.#isBelieved(message.sender)) return;
      this.onSignal({
        path: message.path ?? '',
        member: message.member ?? '',
        interfaceName: message.interface ?? '',
        body: message.body,
        atMs,
      });
    });
    bus.addMethodHandler((message: Message) => {
      if (message.type !== MessageType.METHOD_CALL || message.sender !== this.peer) return false;
      return this.onCall({
        path: message.path ?? '',
        interfaceName: message.interface ?? '',
        member: message.member ?? '',
        sender: message.sender ?? '',
        body: message.body,
        reply: (signature = '', ...body) =>
          this.#answer(Message.newMethodReturn(message, signature, [...body])),
        refuse: (errorName) => this.#answer(Message.newError(message, errorName, 'refused')),
      });
    });
  }

  /** Joins the system's bus, or that of `DBUS_SYSTEM_BUS_ADDRESS`. Rejects with a `CallFailure`. */
  static async open(): Promise<BusClient> {
    const bus = systemBus();
    const client = new BusClient(bus);
    const joined = new Promise<void>((resolve, reject) => {
      const timer = setTimeout(() => reject(new CallFailure(unanswered, 'Hello')), helloLimitMs);
      bus.on('connect', () => {
        clearTimeout(timer);
        resolve();
      });
      (bus as EventEmitter).on('error', (error: Error) => {
        clearTimeout(timer);
        const failure = new CallFailure(busEnded, error.message);
        reject(failure);
        client.#end(failure);
      });
    });
    await joined;
    // The library tells of faults of the socket, but not that the other side closed it.
    (bus as unknown as { readonly _connection: EventEmitter })._connection.on('end', () =>
      client.#end(new CallFailure(busEnded, 'end')),
    );
    return client;
  }

  /** The answer's values. Rejects with a `CallFailure`, after `limitMs` at the latest. */
  call({
    destination = bluez,
    interfaceName,
    limitMs,
    signature = '',
    body = [],
    ...where
  }: BusCall): Promise<readonly unknown[]> {
    return new Promise((resolve, reject) => {
      if (this.#ended !== null) {
        reject(this.#ended);
        return;
      }
      const fail = (failure: CallFailure): void => {
        clearTimeout(timer);
        this.#waiting.delete(fail);
        reject(failure);
      };
      const timer = setTimeout(() => fail(new CallFailure(unanswered, where.member)), limitMs);
      this.#waiting.add(fail);
      const message = new Message({
        ...where,
        destination,
        interface: interfaceName,
        signature,
        body: [...body],
      });
      this.#bus.call(message).then(
        (answer) => {
          clearTimeout(timer);
          this.#waiting.delete(fail);
          resolve(answer?.body ?? []);
        },
        (error: unknown) => {
          const name = error instanceof DBusError ? error.type : busEnded;
          fail(new CallFailure(name, error instanceof Error ? error.message : String(error)));
        },
      );
    });
  }

  close(): void {
    this.#bus.disconnect();
  }

  #isBelieved(sender: string | undefined | null): boolean {
    return sender === 'org.freedesktop.DBus' || (this.peer !== null && sender === this.peer);
  }

  #answer(message: Message): void {
    // Whoever asked may have gone with the bus.
    if (this.#ended === null) this.#bus.send(message);
  }

  #end(failure: CallFailure): void {
    if (this.#ended !== null) return;
    this.#ended = failure;
    for (const fail of [...this.#waiting]) fail(failure);
    this.onEnd(failure);
  }
}

/** A value of a named type where D-Bus asks for any. */
export const ofType = (signature: string, value: unknown): unknown => new Variant(signature, value);

/** The value itself, whatever D-Bus wrapped it in. */
export const plain = (value: unknown): unknown => (value instanceof Variant ? plain(value.value) : value);
