// An optional webhook: posts what should sound, at every change, as JSON, again and again until it is taken; and a beacon at
// an interval, so that whoever receives it notices silence. For house automation and dead-man's switches; never the only output.

import { createHmac } from 'node:crypto';
import { type Said, said } from '../../shared/said.ts';
import type { Clock } from '../base/ports/clock.ts';
import { isSameNews, newsInJson } from './alarm-news.ts';
import type { AlarmNews, AlarmOutput, OutputHealth, OutputSound, OutputTest } from './alarm-output.ts';
import { backOffMs } from './back-off.ts';

/** A webhook that answers later than this is taken for broken. Our choice. */
const timeoutMs = 3_000;
/** A change that is not taken for so long is given up; the beacon says what should sound from then on. Our choice. */
const giveUpMs = 120_000;

export type Post = (url: string, body: string, headers: Readonly<Record<string, string>>) => Promise<number>;

export interface WebhookOptions {
  readonly url: string;
  readonly clock: Clock;
  /** With it each post is signed. */
  readonly secret?: string;
  /** How often the beacon goes out; null for none: then silence says nothing. */
  readonly beaconMs: number | null;
  /** Whether all is well with the hub; said by each beacon. */
  readonly isWell: () => boolean;
  readonly post?: Post;
  readonly health?: OutputHealth;
}

type Word = OutputSound | 'none';
/** A drill asks for what a high alarm asks for, and says that it is one. */
const bodyOf = (word: Word) => (word === 'drill' ? { alarm: 'high', drill: true } : { alarm: word });

/** The signature of a post: HMAC-SHA256 (RFC 2104, FIPS 180-4) over time, a line feed and the body, in hexadecimal. */
export const signatureOf = (secret: string, time: string, body: string): string =>
  createHmac('sha256', secret).update(`${time}\n${body}`).digest('hex');

/** The webhook as an output; names of people are sent only where the settings say so. Bodies and headers stand in this room's README. */
export function createWebhook(options: WebhookOptions): AlarmOutput {
  return new Webhook(options);
}

class Webhook implements AlarmOutput {
  readonly name: Said;
  readonly #options: WebhookOptions;
  readonly #host: string;
  readonly #post: Post;
  readonly #stopBeacon: () => void;
  #wanted: Word = 'none';
  #news: readonly AlarmNews[] = [];
  /** Rises with each change of what is wanted; the last that was taken. */
  #change = 0;
  #takenChange = 0;
  /** Null while nobody knows what the receiver took last. */
  #taken: Word | null = 'none';
  #isSending = false;
  #failures = 0;
  #wantedSinceMs = 0;
  #cancelRetry: (() => void) | undefined;
  #sequence = 0;
  #isClosed = false;

  constructor(options: WebhookOptions) {
    this.#options = options;
    this.#host = new URL(options.url).host;
    this.name = said('output.webhook', { host: this.#host });
    this.#post = options.post ?? postJson;
    this.#stopBeacon =
      options.beaconMs === null
        ? () => undefined
        : options.clock.every(options.beaconMs, () => void this.#beacon());
  }

  test(): Promise<OutputTest> {
    return this.#send({ alarm: 'test' });
  }

  /** Each beacon is one. */
  probe(): Promise<OutputTest> {
    return this.#beacon();
  }

  sound(what: OutputSound | null, news: readonly AlarmNews[] = []): void {
    const word = what ?? 'none';
    if (word === this.#wanted && isSameNews(news, this.#news)) return;
    this.#wanted = word;
    this.#news = news;
    this.#change += 1;
    this.#failures = 0;
    this.#wantedSinceMs = this.#options.clock.nowMs();
    this.#cancelRetry?.();
    void this.#next();
  }

  close(): void {
    if (this.#isClosed) return;
    this.#stopBeacon();
    this.#cancelRetry?.();
    this.#isClosed = true;
    // Silence from now on is meant: the receiver need not wait for it.
    if (this.#options.beaconMs !== null)
      void this.#send({ alarm: 'none', beacon: true, well: true, nextWithinMs: null });
    else if (this.#taken !== 'none') void this.#send({ alarm: 'none' });
  }

  async #next(): Promise<void> {
    if (this.#isClosed || this.#isSending || this.#change === this.#takenChange) return;
    const word = this.#wanted;
    const change = this.#change;
    this.#isSending = true;
    // A post that is not answered may have been taken all the same.
    this.#taken = null;
    const { ok } = await this.#send({ ...bodyOf(word), ...this.#about() });
    this.#isSending = false;
    if (this.#isClosed) return;
    if (ok) {
      this.#failures = 0;
      this.#taken = word;
      this.#takenChange = change;
    } else if (change === this.#change) {
      this.#failures += 1;
      const { clock } = this.#options;
      const delayMs = backOffMs(this.#failures);
      if (clock.nowMs() + delayMs - this.#wantedSinceMs > giveUpMs) return;
      this.#cancelRetry = clock.after(delayMs, () => void this.#next());
      return;
    }
    await this.#next();
  }

  async #beacon(): Promise<OutputTest> {
    const word = this.#wanted;
    const change = this.#change;
    const { beaconMs, isWell } = this.#options;
    if (this.#isClosed || beaconMs === null) return { ok: true };
    const beacon = { beacon: true, well: isWell(), nextWithinMs: beaconMs };
    const result = await this.#send({ ...bodyOf(word), ...this.#about(), ...beacon });
    if (result.ok && change === this.#change) {
      this.#taken = word;
      this.#takenChange = change;
    }
    return result;
  }

  #about(): Readonly<Record<string, unknown>> {
    return this.#news.length === 0 ? {} : { about: newsInJson(this.#news) };
  }

  async #send(content: Readonly<Record<string, unknown>>): Promise<OutputTest> {
    const { url, clock, secret, health } = this.#options;
    this.#sequence += 1;
    const body = JSON.stringify({ ...content, sequence: this.#sequence });
    const time = String(Math.round(clock.wallNowMs()));
    const headers = {
      'content-type': 'application/json',
      'slackwater-time': time,
      ...(secret !== undefined && { 'slackwater-signature': signatureOf(secret, time, body) }),
    };
    const fault = await this.#faultOf(() => this.#post(url, body, headers));
    health?.(fault);
    return fault === null ? { ok: true } : { ok: false, reason: fault };
  }

  async #faultOf(post: () => Promise<number>): Promise<Said | null> {
    try {
      const status = await post();
      if (status >= 200 && status < 300) return null;
      const isElsewhere = status >= 300 && status < 400;
      return said(isElsewhere ? 'output.elsewhere' : 'output.answered', { host: this.#host, status });
    } catch (error) {
      return said('output.noAnswer', {
        host: this.#host,
        reason: error instanceof Error ? error.message : '?',
      });
    }
  }
}

/** A redirect is an answer like any other: a signed post goes to the address of the settings and nowhere else. */
const postJson: Post = async (url, body, headers) => {
  const response = await fetch(url, {
    method: 'POST',
    headers,
    body,
    redirect: 'manual',
    signal: AbortSignal.timeout(timeoutMs),
  });
  // Nobody reads it, and it may never end: not waited for.
  response.body?.cancel().catch(() => undefined);
  return response.status;
};
