// Takes people out of what is written for the operator: names, addresses of devices and networks, folders named after somebody.
// A log is handed on to whoever helps, and people have not agreed to be in it.

import { isIPv6 } from 'node:net';

/** More addresses than this are not told apart. */
const mostAddresses = 1_000;

/** Address of an adapter or a sensor, with or without colons. */
const radioAddress = /\b[0-9a-f]{2}(?:[:-][0-9a-f]{2}){5}\b|\b[0-9a-f]{12}\b/gi;
const ipv4Address = /\b(?!127\.)\d{1,3}(?:\.\d{1,3}){3}\b/g;
/** What might be an IPv6 address; whether it is, Node says. */
const ipv6Candidate = /(?<![\w:.])[0-9a-f:]{3,}(?:%\w+)?(?![\w:])/gi;
const mailAddress = /[\w.+-]+@[\w-]+(?:\.[\w-]+)+/g;
const homeFolder = /([/\\](?:home|Users)[/\\])[^/\\\s"']+/g;

/** One that tells addresses apart by a number of its own, good until the process ends. */
export class WithoutPeople {
  readonly #names: () => readonly string[];
  readonly #numbers = new Map<string, number>();
  #namesKnown: readonly string[] = [];
  #anyName: RegExp | null = null;

  /** `names`: of athletes and devices as they are now, asked at each line. */
  constructor(names: () => readonly string[]) {
    this.#names = names;
  }

  text(text: string): string {
    const named = this.#pattern() === null ? text : text.replaceAll(this.#pattern()!, '[name]');
    return named
      .replaceAll(mailAddress, '[mail]')
      .replaceAll(homeFolder, '$1[user]')
      .replaceAll(radioAddress, (address) => this.#numbered(address))
      .replaceAll(ipv4Address, (address) => this.#numbered(address))
      .replaceAll(ipv6Candidate, (found) =>
        isIPv6(found.replace(/%.*/, '')) && found !== '::1' && found !== '::' ? this.#numbered(found) : found,
      );
  }

  /** What was thrown, with what led to it, as plain fields. */
  fault(error: unknown, depth = 0): object {
    if (!(error instanceof Error)) return { message: this.text(String(error)) };
    const { code } = error as NodeJS.ErrnoException;
    return {
      type: error.name,
      message: this.text(error.message),
      ...(code !== undefined && { code: String(code) }),
      ...(error.stack !== undefined && { stack: this.text(error.stack) }),
      ...(error.cause !== undefined && depth < 3 && { cause: this.fault(error.cause, depth + 1) }),
    };
  }

  #numbered(address: string): string {
    const key = address.toLowerCase();
    let number = this.#numbers.get(key);
    if (number === undefined && this.#numbers.size < mostAddresses) {
      number = this.#numbers.size + 1;
      this.#numbers.set(key, number);
    }
    return number === undefined ? '[address]' : `[address ${number}]`;
  }

  /** Whole names, and their parts of three letters or more, as they are written: "Mark" is one, "mark" is not. */
  #pattern(): RegExp | null {
    const names = this.#names();
    if (names.length === this.#namesKnown.length && names.every((name, at) => name === this.#namesKnown[at]))
      return this.#anyName;
    this.#namesKnown = [...names];
    const parts = names.flatMap((name) => [
      name,
      ...name.split(/[\s'\u2019-]+/).filter((part) => part.length >= 3),
    ]);
    const words = [...new Set(parts)].filter((part) => part.trim().length >= 2);
    // The longest first, so that a whole name goes before its part.
    words.sort((one, other) => other.length - one.length);
    this.#anyName =
      words.length === 0
        ? null
        : new RegExp(`(?<![\\p{L}\\p{N}])(?:${words.map(literally).join('|')})(?![\\p{L}\\p{N}])`, 'gu');
    return this.#anyName;
  }
}

const literally = (text: string): string => text.replaceAll(/[.*+?^${}()|[\]\\/]/g, '\\$&');
