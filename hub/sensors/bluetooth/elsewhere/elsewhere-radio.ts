// The hub's end of a radio on another computer: a radio like any other to the link logic. Maps its clock onto the hub's, says
// when it is not reached, and takes each of its words once and in order, however often the network breaks.

import { type Said, said } from '../../../../shared/said.ts';
import { type ProcessMs, processMs } from '../../../../shared/units.ts';
import type { Clock } from '../../../base/ports/clock.ts';
import {
  addExchange,
  bestOffset,
  type ClockAnchor,
  type ClockExchange,
  mostDrift,
  offsetBetween,
} from '../clock-offset.ts';
import { linkPolicy } from '../link-policy.ts';
import type { Radio, RadioEvent, RadioHealth, RadioListener } from '../radio.ts';
import { NumberedInbox, NumberedOutbox } from './numbered-items.ts';
import {
  bytesOfItem,
  type FromRadio,
  itemsText,
  type RadioLine,
  type RadioOrder,
  radioLimits,
  radioText,
  radioWireVersion,
  readFromRadio,
  type ToRadio,
} from './radio-wire.ts';

/** With the silence that a link may have, an outage is told within 3 s of the last packet. */
const pingEveryMs = 500;
const silentAfterMs = 2_500;
/** Questions at the beginning, each on the answer to the one before: the quickest of them tells the offset. */
const firstQuestions = 8;
/** More commands than this for a radio that is not reached, and it begins anew. */
const mostOrders = 2_000;

export interface ElsewhereRadioOptions {
  readonly radioId: string;
  /** Of this hub process. */
  readonly hubRunId: string;
  readonly clock: Clock;
  readonly log: (line: string) => void;
}

/** Why a radio's connection was ended by us. */
export type LineFault = 'badMessage' | 'wrongVersion';

export class ElsewhereRadio implements Radio {
  readonly #options: ElsewhereRadioOptions;
  readonly #outbox = new NumberedOutbox<RadioOrder>();
  readonly #inbox = new NumberedInbox();
  #listener: RadioListener | null = null;
  #line: RadioLine | null = null;
  /** The hello has been heard and answered. */
  #greeted = false;
  /** What it has belongs to this process: links, and numbers of items. */
  #known = false;
  #questionsLeft = 0;
  #exchanges: readonly ClockExchange[] = [];
  /** The offset as it was known when the connection before broke. */
  #before: ClockAnchor | null = null;
  #now: ClockAnchor | null = null;
  #heardAtMs = 0;
  #awaySinceMs: number | null = null;
  #starts = 0;
  #lost = 0;
  #stopTicking: (() => void) | null = null;

  constructor(options: ElsewhereRadioOptions) {
    this.#options = options;
  }

  get health(): RadioHealth {
    const nowMs = this.#options.clock.nowMs();
    const known = bestOffset(this.#exchanges, nowMs, mostDrift);
    return {
      clockUncertaintyMs: known?.uncertaintyMs ?? null,
      starts: this.#starts,
      faults: 0,
      processId: null,
      packetsLost: this.#lost,
    };
  }

  start(listener: RadioListener): void {
    this.#listener = listener;
    this.#stopTicking = this.#options.clock.every(pingEveryMs, () => this.#tick());
  }

  send(order: RadioOrder): void {
    this.#outbox.push(order, bytesOfItem(order));
    if (this.#outbox.length > mostOrders) this.#options.clock.soon(() => this.#giveUp());
    else this.#flush();
  }

  restart(reason: Said): void {
    this.#options.log(`radio elsewhere: ${reason.code}`);
    this.#forget(null);
    // It hears that it is to begin anew when it greets again.
    this.#line?.cut();
  }

  async stop(): Promise<void> {
    this.#stopTicking?.();
    this.#listener = null;
    this.#line?.cut();
    this.#line = null;
  }

  /** The radio has connected. A connection that it had before is of the past. */
  attach(line: RadioLine): void {
    const former = this.#line;
    if (former !== null) {
      this.lineEnded(former);
      former.cut();
    }
    this.#line = line;
    this.#greeted = false;
    this.#heardAtMs = this.#options.clock.nowMs();
  }

  /** It shows another certificate from now on. */
  tellCertificate(fingerprintSha256: string): void {
    if (this.#greeted) this.#say({ type: 'certificate', fingerprintSha256 });
  }

  lineEnded(line: RadioLine): void {
    if (this.#line !== line) return;
    this.#line = null;
    this.#greeted = false;
    this.#away();
  }

  /** Answers with what is wrong with it, where its connection is to be ended. */
  received(line: RadioLine, text: string): LineFault | null {
    if (this.#line !== line) return null;
    const read = readFromRadio(text);
    if (!read.ok) {
      this.#options.log(`radio elsewhere: unintelligible: ${read.reason.slice(0, 80)}`);
      return 'badMessage';
    }
    this.#heardAtMs = this.#options.clock.nowMs();
    return this.#take(read.value);
  }

  #take(message: FromRadio): LineFault | null {
    if (message.type === 'hello') return this.#greet(message);
    if (!this.#greeted) return 'badMessage';
    switch (message.type) {
      case 'pong':
        this.#compareClocks(message);
        return null;
      case 'heard':
        this.#outbox.heard(message.upTo);
        this.#flush();
        return null;
      case 'items': {
        const fresh = this.#inbox.take(message.first, message.items);
        if (fresh === null) return 'badMessage';
        this.#say({ type: 'heard', upTo: this.#inbox.heard });
        for (const event of fresh) this.#tell(event as RadioEvent);
        return null;
      }
    }
  }

  #greet({ version, hubRunId, heard, lost }: Extract<FromRadio, { type: 'hello' }>): LineFault | null {
    if (version !== radioWireVersion) return 'wrongVersion';
    const resumes = this.#known && hubRunId === this.#options.hubRunId;
    if (!resumes) {
      if (this.#known) this.#forget(said('radio.begunAnew'));
      this.#starts += 1;
      this.#known = true;
    }
    this.#outbox.heard(heard);
    this.#outbox.again();
    this.#lost = lost;
    this.#greeted = true;
    // The clock of a computer that slept or was started again has nothing to do with the one before.
    this.#before = resumes ? this.#now : null;
    this.#exchanges = [];
    this.#say({
      type: 'welcome',
      version: radioWireVersion,
      hubRunId: this.#options.hubRunId,
      resumes,
      heard: this.#inbox.heard,
    });
    this.#questionsLeft = firstQuestions;
    this.#ping();
    return null;
  }

  #compareClocks({ askedAtMs, answeredAtMs }: Extract<FromRadio, { type: 'pong' }>): void {
    const heardAtMs = this.#options.clock.nowMs();
    // A time that was never asked at is none of ours.
    if (!(askedAtMs <= heardAtMs && heardAtMs - askedAtMs < 60_000)) return;
    this.#exchanges = addExchange(this.#exchanges, { askedAtMs, answeredAtMs, heardAtMs });
    const best = bestOffset(this.#exchanges, heardAtMs, mostDrift);
    if (best !== null) this.#now = { ...best, theirMs: answeredAtMs };
    if (this.#questionsLeft === 0) return;
    this.#questionsLeft -= 1;
    if (this.#questionsLeft > 0) {
      this.#ping();
      return;
    }
    // Now what it has kept can be put where it belongs.
    this.#say({ type: 'ready' });
    if (this.#awaySinceMs !== null) {
      this.#awaySinceMs = null;
      this.#listener?.event({ type: 'back' });
    }
    this.#flush();
  }

  #tell(event: RadioEvent): void {
    // A radio speaks of its own links only.
    if ('linkId' in event && !this.#isOurs(event.linkId)) return;
    this.#listener?.event('atMs' in event ? { ...event, atMs: this.#ourTime(event.atMs) } : event);
  }

  #isOurs(linkId: string): boolean {
    const { radioId } = this.#options;
    return linkId.startsWith(`${radioId}-`) && /^\d+$/.test(linkId.slice(radioId.length + 1));
  }

  /** Never later than now: an arrival cannot lie in the future. */
  #ourTime(theirMs: number): ProcessMs {
    const nowMs = this.#options.clock.nowMs();
    if (this.#now === null) return nowMs;
    return processMs(Math.min(nowMs, theirMs + offsetBetween(this.#before, this.#now, theirMs).offsetMs));
  }

  #tick(): void {
    const nowMs = this.#options.clock.nowMs();
    if (this.#line !== null && nowMs - this.#heardAtMs >= silentAfterMs) {
      const silent = this.#line;
      this.lineEnded(silent);
      silent.cut();
    }
    if (this.#greeted) this.#ping();
    if (this.#awaySinceMs !== null && nowMs - this.#awaySinceMs >= linkPolicy.awayLimitMs) this.#giveUp();
  }

  #away(): void {
    if (!this.#known || this.#awaySinceMs !== null) return;
    this.#awaySinceMs = this.#options.clock.nowMs();
    this.#listener?.event({ type: 'away' });
  }

  #giveUp(): void {
    this.#forget(said('radio.awayTooLong'));
    this.#line?.cut();
  }

  /** Whatever it has is no longer ours: the next time it greets, it begins anew. `tell`: the link logic has to hear of it. */
  #forget(tell: Said | null): void {
    this.#known = false;
    this.#awaySinceMs = null;
    this.#outbox.clear();
    this.#inbox.clear();
    this.#before = null;
    this.#now = null;
    if (tell !== null) this.#listener?.event({ type: 'problem', problem: 'notReached', reason: tell });
  }

  #ping(): void {
    this.#say({ type: 'ping', askedAtMs: this.#options.clock.nowMs() });
  }

  #flush(): void {
    if (!this.#greeted || this.#questionsLeft > 0) return;
    for (;;) {
      const next = this.#outbox.next(radioLimits);
      if (next === null) return;
      this.#line?.send(itemsText(next.first, next.items));
    }
  }

  #say(message: Exclude<ToRadio, { type: 'items' }>): void {
    this.#line?.send(radioText(message));
  }
}
