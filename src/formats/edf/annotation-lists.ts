// Time-stamped annotation lists (TAL): +onset[0x15 duration]0x14 text 0x14 ... 0x00, in UTF-8.
// Kemp & Olivan 2003 s2.2.

import { failed, ok, type Result } from '../../result.ts';
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
}

/** Reads the annotation bytes of one record. The reason is a phrase with the byte's place in the record. */
export function decodeAnnotations(bytes: Uint8Array): Result<RecordAnnotations> {
  const annotations: EdfAnnotation[] = [];
  let recordOnsetS: number | undefined;
  let at = 0;
  let first = true;
  while (at < bytes.length) {
    if (bytes[at] === listEnd) {
      at += 1;
      continue;
    }
    const end = bytes.indexOf(listEnd, at);
    if (end < 0) return failed(`an annotation at byte ${at} of its record does not end`);
    const list = bytes.subarray(at, end);
    const headEnd = list.indexOf(textEnd);
    if (headEnd < 0 || list.at(-1) !== textEnd)
      return failed(`the annotation at byte ${at} of its record has no text mark`);
    const head = decodeUtf8(list.subarray(0, headEnd));
    const [onset, duration, more] = head?.split('\u0015') ?? [];
    if (
      onset === undefined ||
      more !== undefined ||
      !onsetPattern.test(onset) ||
      (duration !== undefined && !durationPattern.test(duration))
    )
      return failed(`the annotation at byte ${at} of its record has no readable time`);
    const texts = decodeUtf8(list.subarray(headEnd + 1, -1));
    if (texts === undefined && list.length > headEnd + 1)
      return failed(`the annotation at byte ${at} of its record is not UTF-8 text`);
    (texts ?? '').split('\u0014').forEach((text, index) => {
      if (first && index === 0 && text === '') recordOnsetS = Number(onset);
      if (text === '') return;
      annotations.push({
        onsetS: Number(onset),
        ...(duration !== undefined && duration !== '' && { durationS: Number(duration) }),
        text,
      });
    });
    first = false;
    at = end + 1;
  }
  return ok({ recordOnsetS, annotations });
}
