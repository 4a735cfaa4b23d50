// Tells the hub's own person from whoever else uses the same machine: codes for a link that only they are shown, and the
// token a browser keeps once it came by such a link. Everything is sealed with one key, so nothing has to be stored.

import { createHash, createHmac, randomBytes, timingSafeEqual } from 'node:crypto';
import type { Clock } from '../../base/ports/clock.ts';

const hourMs = 3_600_000;
/** Printed in a terminal of the person's own: good for the day's work. */
const linkLifetimeMs = 12 * hourMs;
/** Handed to a browser by a command line, which other users can read in the list of processes. */
const openerLifetimeMs = 2 * 60_000;
/** As long as a coach's device (device-register.ts). */
export const ownTokenLifetimeMs = 30 * 24 * hourMs;

type Purpose = 'link' | 'opener' | 'token';

export interface OwnPerson {
  /** For a link that a terminal shows. Lets in every browser that brings it, until it ends. */
  linkCode(): string;
  /** For the browser the hub opens by itself. Good once. */
  openerCode(): string;
  /**
   * Trades a code for a token; undefined for a code that is wrong, old or used. `isOtherUser`: another user's program of
   * this machine brings it. An opener's code can only have been read off the list of processes then; the link of a hub
   * that runs as a service is always brought so.
   */
  enter(code: string, isOtherUser?: () => boolean): string | undefined;
  isToken(token: string): boolean;
  /** Differs from hub to hub: cookies do not tell the ports of a machine apart (RFC 6265 s8.5). */
  readonly cookieName: string;
}

/** `key` is 32 random bytes that only this hub's person can read. `clock` is that of people. */
export const createOwnPerson = (key: Buffer, clock: Clock): OwnPerson => new KeyedOwnPerson(key, clock);

class KeyedOwnPerson implements OwnPerson {
  readonly cookieName: string;
  readonly #key: Buffer;
  readonly #clock: Clock;
  /** Opener codes that were used, with when they would have ended. */
  readonly #used = new Map<string, number>();

  constructor(key: Buffer, clock: Clock) {
    this.#key = key;
    this.#clock = clock;
    this.cookieName = `slackwater-own-${createHash('sha256').update(key).digest('hex').slice(0, 8)}`;
  }

  linkCode(): string {
    return this.#seal('link', linkLifetimeMs);
  }

  openerCode(): string {
    return this.#seal('opener', openerLifetimeMs);
  }

  enter(code: string, isOtherUser: () => boolean = () => false): string | undefined {
    const nowMs = this.#clock.wallNowMs();
    for (const [used, endsMs] of this.#used) if (endsMs <= nowMs) this.#used.delete(used);
    if (this.#isGood(code, 'opener')) {
      if (this.#used.has(code) || isOtherUser()) return undefined;
      this.#used.set(code, nowMs + openerLifetimeMs);
    } else if (!this.#isGood(code, 'link')) return undefined;
    return this.#seal('token', ownTokenLifetimeMs);
  }

  isToken(token: string): boolean {
    return this.#isGood(token, 'token');
  }

  /** "ends.nonce.mac": when it ends (Unix ms, base 36), a random part, and the seal over both and the purpose. */
  #seal(purpose: Purpose, lifetimeMs: number): string {
    const ends = Math.round(this.#clock.wallNowMs() + lifetimeMs).toString(36);
    const nonce = randomBytes(9).toString('base64url');
    return `${ends}.${nonce}.${this.#mac(purpose, ends, nonce).toString('base64url')}`;
  }

  #isGood(sealed: string, purpose: Purpose): boolean {
    const [ends = '', nonce = '', mac = '', more] = sealed.split('.');
    if (more !== undefined) return false;
    const given = Buffer.from(mac, 'base64url');
    const wanted = this.#mac(purpose, ends, nonce);
    if (given.length !== wanted.length || !timingSafeEqual(given, wanted)) return false;
    return this.#clock.wallNowMs() < Number.parseInt(ends, 36);
  }

  /** Half of the hash's length, the least that RFC 2104 s5 allows: 128 bits. */
  #mac(purpose: Purpose, ends: string, nonce: string): Buffer {
    return createHmac('sha256', this.#key).update(`${purpose} ${ends} ${nonce}`).digest().subarray(0, 16);
  }
}
