// The long text format of a recording: one value a line, `time_s,channel,value`. What a row is and how it is named.

import type { Channel, MarkKind, SampleQuality } from '../../../shared/schema-parts.ts';

/** The header line, which a file must have. */
export const csvHeader = 'time_s,channel,value';
/** The same with how good each reading is: as exports have it. */
export const csvHeaderWithQuality = `${csvHeader},quality`;

/** Times are milliseconds from the recording's start, to a thousandth of a millisecond. */
export type CsvRow =
  | {
      readonly kind: 'sample';
      readonly timeMs: number;
      readonly channel: CsvChannel;
      readonly value: number;
      /** Where the file says it. */
      readonly quality?: SampleQuality;
    }
  | { readonly kind: 'mark'; readonly timeMs: number; readonly mark: CsvMark }
  | { readonly kind: 'note'; readonly timeMs: number; readonly text: string };

export type CsvChannel = Extract<
  Channel,
  'heartRateBpm' | 'rrIntervalMs' | 'spo2Percent' | 'pulseRateBpm' | 'perfusionIndexPercent' | 'pleth'
>;
export type CsvMark = Extract<
  MarkKind,
  | 'holdStart'
  | 'holdEnd'
  | 'contraction'
  | 'breathing'
  | 'lungsFull'
  | 'lungsHalf'
  | 'lungsEmptied'
  | 'answered'
  | 'stillHolding'
>;

export interface CsvChannelEntry {
  readonly name: string;
  readonly channel: CsvChannel;
  readonly least: number;
  readonly most: number;
}

/** Name in the file, channel, and the range outside of which a value is an error of the file. */
export const csvChannels: readonly CsvChannelEntry[] = [
  { name: 'heart_rate_bpm', channel: 'heartRateBpm', least: 0, most: 400 },
  { name: 'rr_interval_ms', channel: 'rrIntervalMs', least: 0, most: 60_000 },
  { name: 'spo2_percent', channel: 'spo2Percent', least: 0, most: 100 },
  { name: 'pulse_rate_bpm', channel: 'pulseRateBpm', least: 0, most: 400 },
  { name: 'perfusion_index_percent', channel: 'perfusionIndexPercent', least: 0, most: 200 },
  { name: 'pleth', channel: 'pleth', least: -1e12, most: 1e12 },
];

export const csvMarks: readonly { readonly name: string; readonly mark: CsvMark }[] = [
  { name: 'hold_start', mark: 'holdStart' },
  { name: 'hold_end', mark: 'holdEnd' },
  { name: 'contraction', mark: 'contraction' },
  { name: 'breathing', mark: 'breathing' },
  { name: 'lungs_full', mark: 'lungsFull' },
  { name: 'lungs_half', mark: 'lungsHalf' },
  { name: 'lungs_emptied', mark: 'lungsEmptied' },
  { name: 'answered', mark: 'answered' },
  { name: 'still_holding', mark: 'stillHolding' },
];

/** The channel column of a mark. */
export const csvMarkChannel = 'mark';
/** The channel column of a note; its text is the value, quoted. */
export const csvNoteChannel = 'note';
