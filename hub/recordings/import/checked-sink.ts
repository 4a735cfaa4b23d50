// What goes through here has been looked at: how many readings of which channel, whether they can be, and never more than
// a recording may have.

import { type Said, said } from '../../../shared/said.ts';
import type { Channel } from '../../../shared/schema-parts.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import type { ImportSink, ImportSummary } from '../../../src/formats/import-file.ts';
import {
  type ImportedMark,
  importLimits,
  mostImpossibleShare,
  possibleValues,
} from '../../../src/sessions/imported-recording.ts';

/** Ends the reading of a file from inside a reader. */
export class ImportRefused extends Error {
  override readonly name = 'ImportRefused';
  readonly said: Said;

  constructor(what: Said) {
    super(sayInEnglish(what));
    this.said = what;
  }
}

/** Marks beyond this are of a file made to be hard to read. */
const mostMarks = 500_000;

interface ChannelCount {
  good: number;
  impossible: number;
  firstImpossible: number;
}

export interface CheckedSink extends ImportSink {
  /** In time order; those beyond the end are left out by `checked`. */
  readonly marks: readonly ImportedMark[];
  readonly count: number;
  /** Throws `ImportRefused` where what was read is no recording; answers with what to say of it. */
  checked(summary: ImportSummary): readonly Said[];
}

/** `fileName` begins each sentence. Without `next`, what is read is only counted. */
export function createCheckedSink(fileName: string, next?: Pick<ImportSink, 'sample'>): CheckedSink {
  const counts = new Map<Channel, ChannelCount>();
  let marks: ImportedMark[] = [];
  const totals = { readings: 0, wave: 0 };
  const file = fileName;
  const tooMany = (code: 'import.tooManyReadings' | 'import.tooManyWaveSamples', most: number): never => {
    throw new ImportRefused(said(code, { file, most }));
  };
  return {
    sample(channel, atMs, earliestMs, latestMs, value, quality) {
      let count = counts.get(channel);
      if (count === undefined) {
        count = { good: 0, impossible: 0, firstImpossible: 0 };
        counts.set(channel, count);
      }
      const [least, most] = possibleValues[channel];
      if (quality === 'good' && !(value >= least && value <= most + 0.5)) {
        if (count.impossible === 0) count.firstImpossible = value;
        count.impossible += 1;
      } else count.good += 1;
      if (channel === 'pleth') {
        totals.wave += 1;
        if (totals.wave > importLimits.waveSamples)
          tooMany('import.tooManyWaveSamples', importLimits.waveSamples);
      } else {
        totals.readings += 1;
        if (totals.readings > importLimits.readings) tooMany('import.tooManyReadings', importLimits.readings);
      }
      next?.sample(channel, atMs, earliestMs, latestMs, value, quality);
    },
    mark(mark) {
      if (marks.length >= mostMarks)
        throw new ImportRefused(said('import.tooManyMarks', { file, most: mostMarks }));
      marks.push(mark);
    },
    get marks() {
      return marks;
    },
    get count() {
      return totals.readings + totals.wave;
    },
    checked({ beginMs, endMs }) {
      if (totals.readings + totals.wave === 0) throw new ImportRefused(said('import.noReadings', { file }));
      const durationMs = endMs - beginMs;
      const mostHours = importLimits.durationMs / 3_600_000;
      if (durationMs > importLimits.durationMs)
        throw new ImportRefused(
          said('import.tooLong', { file, hours: Math.round(durationMs / 3_600_000), most: mostHours }),
        );
      for (const [channel, { good, impossible, firstImpossible }] of counts) {
        const [least, most] = possibleValues[channel];
        if (impossible > mostImpossibleShare * (good + impossible))
          throw new ImportRefused(
            said('import.impossible', {
              file,
              count: impossible,
              of: good + impossible,
              channel,
              least,
              most,
              example: firstImpossible,
            }),
          );
      }
      // A session lasts to its last event, whatever it is.
      const late = marks.filter(({ atMs }) => atMs > durationMs + beginMs).length;
      marks = marks
        .filter(({ atMs }) => atMs <= durationMs + beginMs)
        .map((mark) => ({ ...mark, atMs: Math.max(0, mark.atMs - beginMs) }))
        .sort((a, b) => a.atMs - b.atMs);
      return late === 0 ? [] : [said('import.lateMarks', { count: late })];
    },
  };
}
