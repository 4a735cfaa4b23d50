// Names and titles that people give: something must be there to see, in the order in which it is written.

import * as z from 'zod/mini';

/** Draws something: a letter, digit, sign or symbol. The rest are blanks that Unicode counts as letters or symbols. */
const visible = /[\p{L}\p{N}\p{P}\p{S}]/u;
const blank = /[\u115f\u1160\u3164\uffa0\u2800]/gu;
/**
 * Controls, halves of surrogate pairs, what turns the order of writing round (Unicode Bidi_Control: one name could then
 * look like another, UTR 36 s2.6), line and paragraph separators, private characters.
 */
const neverInNames = /[\p{Cc}\p{Cs}\p{Co}\p{Zl}\p{Zp}\p{Bidi_Control}]/u;
/** Invisible, but some scripts and emoji are written with them: joiners and variation selectors (UAX 31 s2.3). */
const invisibleButUsed = /\u200c|\u200d|[\ufe00-\ufe0f]|[\u{e0100}-\u{e01ef}]|[\u{e0020}-\u{e007f}]/gu;
const invisible = /\p{Default_Ignorable_Code_Point}/u;
/** More marks on one letter than any script has: they would run over the lines around (our choice). */
const heapedMarks = /\p{M}{5}/u;

/** True for a name that can be read and told from others. Blanks at its ends are the caller's to take off first. */
export function isReadableName(name: string): boolean {
  if (neverInNames.test(name) || heapedMarks.test(name)) return false;
  const plain = name.replace(invisibleButUsed, '').replace(blank, '');
  return !invisible.test(plain) && visible.test(plain);
}

/** The issue by which the hub knows what to say of such a name (hub/server/route.ts). */
export const unreadableName = 'unreadableName';

/** Accents, case and spaces keep nobody from finding a name. */
export const foldedName = (text: string): string =>
  text.normalize('NFD').replaceAll(/\p{M}/gu, '').toLowerCase().replaceAll(/\s+/g, ' ').trim();

/** A name of at most `most` UTF-16 units, without blanks at its ends. */
export const nameTextSchema = (most: number) =>
  z.string().check(
    z.trim(),
    z.minLength(1, { error: unreadableName }),
    z.maxLength(most),
    z.refine((name) => name.length > most || isReadableName(name), { error: unreadableName }),
  );

/** The same, or nothing. */
export const optionalNameTextSchema = (most: number) =>
  z.string().check(
    z.trim(),
    z.maxLength(most),
    z.refine((name) => name.length > most || name === '' || isReadableName(name), { error: unreadableName }),
  );
