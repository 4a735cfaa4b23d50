// An optional output to a message broker: what calls, and whether a session runs, as retained messages; "offline" is the
// broker's to say when the hub is gone. For lamps and house automation; never the only output.

import { createHash } from 'node:crypto';
import type { IClientOptions, MqttClient } from 'mqtt';
import { type Said, said } from '../../../shared/said.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { AlarmNews, AlarmOutput, OutputHealth, OutputSound, OutputTest } from '../alarm-output.ts';
import {
  alarmMessage,
  discoveryMessages,
  type MqttMessage,
  type MqttState,
  onlineTopic,
  sessionMessage,
  stateMessages,
} from './mqtt-messages.ts';

/** A broker that has not confirmed by then is taken for gone. Our choice, as for the webhook. */
const confirmWithinMs = 3_000;
/** A hub that says nothing for one and a half times this is said to be offline (MQTT 3.1.1, 3.1.2.10). */
const keepAliveSeconds = 10;

export type ConnectMqtt = (url: string, options: IClientOptions) => Promise<MqttClient>;

export interface MqttOutputOptions {
  /** mqtt:// or mqtts://, with user and password where the broker wants them. */
  readonly url: string;
  /** Before all topics: "slackwater". */
  readonly topic: string;
  /** Where home hubs look for what there is; undefined: nothing is announced. */
  readonly discovery?: string;
  readonly version: string;
  readonly clock: Clock;
  readonly health?: OutputHealth;
  readonly connect?: ConnectMqtt;
}

export function createMqttOutput(options: MqttOutputOptions): AlarmOutput {
  return new MqttOutput(options);
}

class MqttOutput implements AlarmOutput {
  readonly name: Said;
  readonly #options: MqttOutputOptions;
  readonly #host: string;
  readonly #client: Promise<MqttClient | null>;
  #state: MqttState = { priority: null, news: [], isSessionRunning: false };
  #isClosed = false;

  constructor(options: MqttOutputOptions) {
    this.#options = options;
    this.#host = new URL(options.url).host;
    this.name = said('output.mqtt', { host: this.#host });
    this.#client = this.#open();
  }

  test(): Promise<OutputTest> {
    return this.#publish([alarmMessage(this.#options.topic, this.#state.priority, this.#state.news)]);
  }

  probe(): Promise<OutputTest> {
    return this.test();
  }

  sound(priority: OutputSound | null, news: readonly AlarmNews[] = []): void {
    this.#state = { ...this.#state, priority, news };
    void this.#publish([alarmMessage(this.#options.topic, priority, news)]);
  }

  setInUse(isSessionRunning: boolean): void {
    this.#state = { ...this.#state, isSessionRunning };
    void this.#publish([sessionMessage(this.#options.topic, isSessionRunning)]);
  }

  close(): void {
    if (this.#isClosed) return;
    this.#isClosed = true;
    const { topic } = this.#options;
    void this.#client.then(async (client) => {
      if (client === null) return;
      // A hub that is stopped says so itself: the broker's word is for one that is gone.
      const last = [
        ...stateMessages(topic, { priority: null, news: [], isSessionRunning: false }),
        offline(topic),
      ];
      await this.#sendAll(client, last).catch(() => undefined);
      await client.endAsync(true).catch(() => undefined);
    });
  }

  async #open(): Promise<MqttClient | null> {
    const { url, topic, connect = connectWithLibrary } = this.#options;
    try {
      const client = await connect(url, {
        clientId: `slackwater-${createHash('sha256').update(`${topic} ${process.pid} ${Date.now()}`).digest('hex').slice(0, 12)}`,
        keepalive: keepAliveSeconds,
        connectTimeout: confirmWithinMs,
        reconnectPeriod: 1_000,
        // What was wanted meanwhile is not worth sending late: all that stands is sent at each connection.
        queueQoSZero: false,
        will: { topic: onlineTopic(topic), payload: Buffer.from('offline'), qos: 1, retain: true },
      });
      client.on('error', (error) => this.#heard(error));
      client.on('offline', () => this.#heard(new Error('no connection')));
      client.on('connect', () => void this.#publish(this.#all()));
      if (client.connected) void this.#publish(this.#all());
      return client;
    } catch (error) {
      this.#heard(error);
      return null;
    }
  }

  #all(): MqttMessage[] {
    const { topic, discovery, version } = this.#options;
    const id = topic.replaceAll(/[^\w-]/g, '_');
    return [
      ...(discovery === undefined ? [] : discoveryMessages(discovery, topic, id, version)),
      { topic: onlineTopic(topic), text: 'online' },
      ...stateMessages(topic, this.#state),
    ];
  }

  async #publish(messages: readonly MqttMessage[]): Promise<OutputTest> {
    const client = await this.#client;
    if (client === null) return { ok: false, reason: said('output.noMqtt') };
    if (this.#isClosed) return { ok: true };
    if (!client.connected) return this.#heard(new Error('no connection'));
    try {
      await this.#sendAll(client, messages);
      this.#options.health?.(null);
      return { ok: true };
    } catch (error) {
      return this.#heard(error);
    }
  }

  /** Rejects where the broker has not confirmed all of them in time. No timer outlives it, which would keep a hub from ending. */
  async #sendAll(client: MqttClient, messages: readonly MqttMessage[]): Promise<void> {
    let stopWaiting: () => void = () => undefined;
    const late = new Promise<never>((_, reject) => {
      stopWaiting = this.#options.clock.after(confirmWithinMs, () => reject(new Error('not confirmed')));
    });
    try {
      await Promise.race([Promise.all(messages.map((each) => send(client, each))), late]);
    } finally {
      stopWaiting();
    }
  }

  #heard(error: unknown): OutputTest {
    const reason = said('output.noAnswer', {
      host: this.#host,
      reason: error instanceof Error ? error.message : '?',
    });
    if (!this.#isClosed) this.#options.health?.(reason);
    return { ok: false, reason };
  }
}

const offline = (topic: string): MqttMessage => ({ topic: onlineTopic(topic), text: 'offline' });

/** Confirmed by the broker (QoS 1), and kept by it for whoever comes later. */
const send = (client: MqttClient, { topic, text }: MqttMessage): Promise<unknown> =>
  client.publishAsync(topic, text, { qos: 1, retain: true });

/** Loaded by those who use it only. */
const connectWithLibrary: ConnectMqtt = async (url, options) => {
  const { default: mqtt } = await import('mqtt');
  return mqtt.connect(url, options);
};
