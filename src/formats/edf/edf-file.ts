// What an EDF or EDF+ file holds, as values: header, signals in digital numbers, annotations.
// Kemp B, Olivan J. European data format plus (EDF+). Clin Neurophysiol 2003;114:1755-1761.

/** A signal of equally spaced 16-bit samples with its scale. */
export interface EdfSignal {
  /** Up to 16 characters. */
  readonly label: string;
  readonly transducer: string;
  /** Physical unit, up to 8 characters; empty for none. */
  readonly unit: string;
  readonly prefilter: string;
  /** `physicalMin` belongs to `digitalMin`, `physicalMax` to `digitalMax`; the scale between is a straight line. */
  readonly physicalMin: number;
  readonly physicalMax: number;
  readonly digitalMin: number;
  readonly digitalMax: number;
  readonly samplesPerRecord: number;
  /** All records one after another. */
  readonly digital: Int16Array;
}

export interface EdfAnnotation {
  /** Seconds after the start in the header. */
  readonly onsetS: number;
  readonly durationS?: number;
  readonly text: string;
}

export interface EdfFile {
  /** `EDF` is the older format without annotations. */
  readonly kind: 'EDF' | 'EDF+C' | 'EDF+D';
  /** The 80-character fields as they stand, without trailing spaces. */
  readonly patient: string;
  readonly recording: string;
  /** Of the header, as Unix milliseconds read as UTC: the format itself knows no time zone. Whole seconds. */
  readonly startMs: number;
  readonly recordDurationS: number;
  /** When each record begins, in seconds after the header's start. */
  readonly recordOnsetsS: readonly number[];
  /** Without the annotation signals. */
  readonly signals: readonly EdfSignal[];
  readonly annotations: readonly EdfAnnotation[];
}

/** Physical value of a digital number (EDF+ 2.1.3: the straight line through both ends of the scale). */
export function physicalOf(signal: Omit<EdfSignal, 'digital'>, digital: number): number {
  const { physicalMin, physicalMax, digitalMin, digitalMax } = signal;
  return physicalMin + ((digital - digitalMin) * (physicalMax - physicalMin)) / (digitalMax - digitalMin);
}

/** Nearest digital number of a physical value, held inside the scale. */
export function digitalOf(signal: Omit<EdfSignal, 'digital'>, physical: number): number {
  const { physicalMin, physicalMax, digitalMin, digitalMax } = signal;
  const exact =
    digitalMin + ((physical - physicalMin) * (digitalMax - digitalMin)) / (physicalMax - physicalMin);
  return Math.min(digitalMax, Math.max(digitalMin, Math.round(exact)));
}

/** Physical size of one digital step. */
export const digitalStepOf = (signal: Omit<EdfSignal, 'digital'>): number =>
  Math.abs(signal.physicalMax - signal.physicalMin) / (signal.digitalMax - signal.digitalMin);

/** Months as the format writes them, in English whatever the locale. */
export const edfMonths = [
  'JAN',
  'FEB',
  'MAR',
  'APR',
  'MAY',
  'JUN',
  'JUL',
  'AUG',
  'SEP',
  'OCT',
  'NOV',
  'DEC',
] as const;
