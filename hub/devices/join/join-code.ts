// The letters of a join code: easy to read out across a room, hard to guess in its ten minutes.

import { randomInt } from 'node:crypto';

/** Crockford's base 32 (2002): no I, L, O or U, so that nothing is mistaken for 1, 0 or V. */
const alphabet = '0123456789ABCDEFGHJKMNPQRSTVWXYZ';
/** 32^8 = 2^40 codes. With the tries of `try-limit.ts` a guess succeeds less than 3 times in 10^9 codes' lives. */
const codeLength = 8;

/** A fresh code, eight letters without a dash. */
export function makeJoinCode(): string {
  return Array.from({ length: codeLength }, () => alphabet[randomInt(alphabet.length)]).join('');
}

/** As shown to people: "4F7K-9QTX". */
export function spellJoinCode(code: string): string {
  return `${code.slice(0, 4)}-${code.slice(4)}`;
}

/** What a person typed as the code they meant: case, spaces and dashes aside, and the usual mistakes undone. */
export function normalizeJoinCode(typed: string): string {
  return typed
    .toUpperCase()
    .replaceAll(/[\s\u2010-\u2015-]/g, '')
    .replaceAll('O', '0')
    .replaceAll(/[IL]/g, '1');
}
