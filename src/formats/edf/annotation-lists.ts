// Time-stamped annotation lists (TAL): +onset[0x15 duration]0x14 text 0x14 ... 0x00, in UTF-8.
// Kemp & Olivan 2003 s2.2.

import type { EdfAnnotation } from './edf-file.ts';
import { decodeUtf8, encodeUtf8 } from './utf8.ts';

const durationMark = 0x15;
const textEnd = 0x14;
const listEnd = 0x00;

const onsetPattern = /^[+-]\d+(?:\.\d*)?$/;
const durationPattern = /^\d+(?:\.\d*)?$/;

/** Seconds as the format wants them: plain decimals without exponent, to a microsecond. */
export function secondsText(seconds: number): string {
  return seconds.toFixed(6).replace(/\.?0+$/, '');
}

const onsetText = (seconds: number): string => `${seconds < 0 ? '-' : '+'}${secondsText(Math.abs(seconds))}`;

/** The list that every record begins with: its own onset and an empty text. */
export function encodeTimekeeping(onsetS: number): Uint8Array {
  return Uint8Array.from([...encodeUtf8(onsetText(onsetS)), textEnd, textEnd, listEnd]);
}

/** One annotation as a list of its own. Control characters of the text, which would end it, become spaces. */
export function encodeAnnotation({ onsetS, durationS, text }: EdfAnnotation): Uint8Array {
  const duration = durationS === undefined ? [] : [durationMark, ...encodeUtf8(secondsText(durationS))];
  const clean = text.replaceAll(/\p{Cc}/gu, ' ');
  return Uint8Array.from([
    ...encodeUtf8(onsetText(onsetS)),
    ...duration,
    textEnd,
    ...encodeUtf8(clean),
    textEnd,
    listEnd,
  ]);
}

export interface RecordAnnotations {
  /** Onset of the record, from a first list with an empty first text; undefined where there is none. */
  readonly recordOnsetS: number | undefined;
  readonly annotations: readonly EdfAnnotation[];
  /** Lists that are none: without an end, a time or UTF-8. They are skipped. */
  readonly unreadable: number;
}

/** Reads the annotation bytes of one record. */
export function decodeAnnotations(bytes: Uint8Array): RecordAnnotations {
  const annotations: EdfAnnotation[] = [];
  let recordOnsetS: number | undefined;
  let unreadable = 0;
  let at = 0;
  let first = true;
  while (at < bytes.length) {
    if (bytes[at] === listEnd) {
      at += 1;
      continue;
    }
    const found = bytes.indexOf(listEnd, at);
    const end = found < 0 ? bytes.length : found;
    const read = found < 0 ? undefined : decodeList(bytes.subarray(at, end));
    at = end + 1;
    if (read === undefined) unreadable += 1;
    else {
      read.texts.forEach((text, index) => {
        if (first && index === 0 && text === '') recordOnsetS = read.onsetS;
        if (text === '') return;
        annotations.push({
          onsetS: read.onsetS,
          ...(read.durationS !== undefined && { durationS: read.durationS }),
          text,
        });
      });
    }
    first = false;
  }
  return { recordOnsetS, annotations, unreadable };
}

function decodeList(
  list: Uint8Array,
): { onsetS: number; durationS: number | undefined; texts: readonly string[] } | undefined {
  const headEnd = list.indexOf(textEnd);
  if (headEnd < 0 || list.at(-1) !== textEnd) return undefined;
  const [onset, duration, more] = decodeUtf8(list.subarray(0, headEnd))?.split('\u0015') ?? [];
  if (
    onset === undefined ||
    more !== undefined ||
    !onsetPattern.test(onset) ||
    (duration !== undefined && duration !== '' && !durationPattern.test(duration))
  )
    return undefined;
  const bytes = list.subarray(headEnd + 1, -1);
  const texts = list.length > headEnd + 1 ? (decodeUtf8(bytes) ?? latin1(bytes)) : '';
  return {
    onsetS: Number(onset),
    durationS: duration === undefined || duration === '' ? undefined : Number(duration),
    texts: texts.split('\u0014'),
  };
}

/** Writers before EDF+ was read with care wrote their system's 8-bit characters. */
const latin1 = (bytes: Uint8Array): string => {
  let text = '';
  for (const byte of bytes) text += String.fromCharCode(byte);
  return text;
};
