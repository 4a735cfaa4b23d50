// The radio's end on another computer: carries out what the hub orders, and keeps what the sensors send while the hub is not
// reached, the oldest first, until there is no more room. Links go on meanwhile.

import { said } from '../../../../shared/said.ts';
import type { Clock } from '../../../base/ports/clock.ts';
import { linkPolicy } from '../link-policy.ts';
import type { Radio, RadioEvent } from '../radio.ts';
import { NumberedInbox, NumberedOutbox } from './numbered-items.ts';
import {
  bytesOfItem,
  type FromRadio,
  isToldElsewhere,
  itemsText,
  type RadioLine,
  radioLimits,
  radioText,
  radioWireVersion,
  readToRadio,
  type ToRadio,
} from './radio-wire.ts';

/** Ten minutes of eight sensors that send twice a second, twice over; a wave of 100 Hz in packets of ten as well. */
const mostKept = 40_000;
const mostKeptBytes = 8 * 1024 * 1024;
/** The hub asks twice a second. */
const silentAfterMs = 3_000;
const lookEveryMs = 500;

export interface RadioPostOptions {
  readonly clock: Clock;
  readonly radio: Radio;
  readonly log: (line: string) => void;
  /** The hub will show this certificate from now on. */
  readonly newCertificate: (fingerprintSha256: string) => void;
}

export class RadioPost {
  readonly #options: RadioPostOptions;
  readonly #outbox = new NumberedOutbox<RadioEvent>();
  readonly #inbox = new NumberedInbox();
  #line: RadioLine | null = null;
  #ready = false;
  #hubRunId: string | null = null;
  #started = false;
  #lost = 0;
  #heardAtMs = 0;
  #awaySinceMs: number | null = null;
  #flushing = false;
  readonly #stopLooking: () => void;

  constructor(options: RadioPostOptions) {
    this.#options = options;
    this.#stopLooking = options.clock.every(lookEveryMs, () => this.#look());
  }

  /** Packets kept for the hub, and those that there was no room for. */
  get counts(): { readonly kept: number; readonly lost: number } {
    return { kept: this.#outbox.length, lost: this.#lost };
  }

  /** A connection to the hub stands. */
  attach(line: RadioLine): void {
    this.#line = line;
    this.#ready = false;
    this.#heardAtMs = this.#options.clock.nowMs();
    this.#say({
      type: 'hello',
      version: radioWireVersion,
      hubRunId: this.#hubRunId,
      heard: this.#inbox.heard,
      lost: this.#lost,
    });
  }

  lineEnded(line: RadioLine): void {
    if (this.#line !== line) return;
    this.#line = null;
    this.#ready = false;
    this.#awaySinceMs ??= this.#options.clock.nowMs();
  }

  /** False where it is not understood: then the connection is worth nothing. */
  received(line: RadioLine, text: string): boolean {
    if (this.#line !== line) return true;
    const read = readToRadio(text);
    if (!read.ok) {
      this.#options.log(`radio: hub unintelligible: ${read.reason.slice(0, 80)}`);
      return false;
    }
    this.#heardAtMs = this.#options.clock.nowMs();
    return this.#take(read.value);
  }

  /** Lets every sensor go. */
  async stop(): Promise<void> {
    this.#stopLooking();
    await this.#options.radio.stop();
  }

  #take(message: ToRadio): boolean {
    switch (message.type) {
      case 'welcome':
        return this.#welcomed(message);
      case 'ping':
        this.#say({
          type: 'pong',
          askedAtMs: message.askedAtMs,
          answeredAtMs: this.#options.clock.nowMs(),
        });
        return true;
      case 'ready':
        this.#ready = true;
        this.#awaySinceMs = null;
        this.#flush();
        return true;
      case 'heard':
        this.#outbox.heard(message.upTo);
        this.#flush();
        return true;
      case 'certificate':
        this.#options.newCertificate(message.fingerprintSha256);
        return true;
      case 'items': {
        const fresh = this.#inbox.take(message.first, message.items);
        if (fresh === null) return false;
        this.#say({ type: 'heard', upTo: this.#inbox.heard });
        for (const order of fresh)
          if (order.type === 'restart') this.#options.radio.restart(said('radio.begunAnew'));
          else this.#options.radio.send(order);
        return true;
      }
    }
  }

  #welcomed({ version, hubRunId, resumes, heard }: Extract<ToRadio, { type: 'welcome' }>): boolean {
    if (version !== radioWireVersion) return false;
    if (resumes) {
      this.#outbox.heard(heard);
      this.#outbox.again();
      return true;
    }
    this.#hubRunId = hubRunId;
    this.#beginAnew();
    return true;
  }

  /** Links and numbers of before are nobody's any more. */
  #beginAnew(): void {
    // What was kept is of links that the hub has given up: it is not delivered, and how much it was is told.
    this.#lost += this.#outbox.length;
    this.#outbox.clear();
    this.#inbox.clear();
    const { radio } = this.#options;
    if (this.#started) radio.restart(said('radio.begunAnew'));
    else radio.start({ event: (event) => this.#hear(event) });
    this.#started = true;
  }

  #hear(event: RadioEvent): void {
    if (!isToldElsewhere(event)) return;
    // Who is in range now is no news later.
    if (event.type === 'advertisement' && !this.#ready) return;
    if (event.type === 'notification' || event.type === 'readDone') {
      if (this.#outbox.length >= mostKept || this.#outbox.bytes >= mostKeptBytes) {
        this.#lost += 1;
        return;
      }
    }
    this.#outbox.push(event, bytesOfItem(event));
    this.#flushSoon();
  }

  #look(): void {
    const nowMs = this.#options.clock.nowMs();
    const line = this.#line;
    if (line !== null && nowMs - this.#heardAtMs >= silentAfterMs) {
      this.lineEnded(line);
      line.cut();
    }
    if (this.#awaySinceMs === null || nowMs - this.#awaySinceMs < linkPolicy.awayLimitMs) return;
    // The hub has given its links up by now, and another radio may reach the sensors.
    this.#awaySinceMs = null;
    if (this.#hubRunId === null) return;
    this.#hubRunId = null;
    this.#options.log('radio: awayTooLong');
    this.#beginAnew();
  }

  /** What comes at once goes out at once. */
  #flushSoon(): void {
    if (this.#flushing) return;
    this.#flushing = true;
    this.#options.clock.soon(() => {
      this.#flushing = false;
      this.#flush();
    });
  }

  #flush(): void {
    if (!this.#ready) return;
    for (;;) {
      const next = this.#outbox.next(radioLimits);
      if (next === null) return;
      this.#line?.send(itemsText(next.first, next.items));
    }
  }

  #say(message: Exclude<FromRadio, { type: 'items' }>): void {
    this.#line?.send(radioText(message));
  }
}
