// What `slackwater analyze` prints, as JSON and as a table: holds with their measures, and alarms. Names in
// snake_case; seconds from the recording's start; null where the signals do not tell.

import { analyzeWords } from '../../../shared/words/en-command-line.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import type { Hold } from '../../../src/holds/hold.ts';
import { measureTable } from '../../../src/holds/measure-table.ts';
import type { SessionMeasures } from '../../../src/holds/measures.ts';
import type { DerivedRecording } from '../../../src/sessions/derive-recording.ts';
import { measureName, measureNumber } from '../../recordings/export/measure-text.ts';

const labelOf = (key: (typeof measureTable)[number]['key']): string =>
  sayInEnglish({ code: `measure.${key}`, params: {} });

export interface AnalysisHold {
  readonly start_s: number;
  readonly end_s: number | null;
  readonly start_uncertainty_s: number;
  readonly end_uncertainty_s: number | null;
  /** When the live detector said so; null where it never did. */
  readonly start_declared_at_s: number | null;
  readonly end_declared_at_s: number | null;
  /**
   * `corrected` when a person put a boundary right afterwards; `mark` when both were marked by hand; `proposed` when the
   * signals alone cannot tell; else `detected`.
   */
  readonly source: 'detected' | 'mark' | 'corrected' | 'proposed';
  /** Probability, 0 to 1, that there is a hold at all; null where a person said so. */
  readonly confidence: number | null;
  readonly measures: Readonly<Record<string, number | null>>;
}

export interface AnalysisAlarm {
  readonly at_s: number;
  readonly kind: string;
  /** When it was raised, and the worst until it passed, in the unit of the kind (%, /min, ms). */
  readonly value: number | null;
  readonly worst_value: number | null;
  /** When its condition had passed; null where it was there to the recording's end. */
  readonly passed_at_s: number | null;
}

export interface AnalysisJson {
  readonly holds: readonly AnalysisHold[];
  readonly alarms: readonly AnalysisAlarm[];
}

const seconds = (ms: number): number => Math.round(ms) / 1_000;
const rounded = (value: number | null): number | null =>
  value === null || !Number.isFinite(value) ? null : measureNumber(value);

/** The analysis of a derived recording in the shape that is printed. */
export function toAnalysisJson(
  recording: Pick<DerivedRecording, 'holds' | 'liveHolds' | 'alarms'>,
): AnalysisJson {
  const live = new Map(recording.liveHolds.map((hold) => [hold.holdId, hold]));
  return {
    holds: recording.holds.map(({ hold, measures }): AnalysisHold => {
      const said = live.get(hold.holdId);
      const declared = (
        final: { source: string; atMs: number },
        liveAtMs: number | undefined,
      ): number | null =>
        final.source === 'mark' ? seconds(final.atMs) : liveAtMs === undefined ? null : seconds(liveAtMs);
      return {
        start_s: seconds(hold.start.atMs),
        end_s: hold.end === undefined ? null : seconds(hold.end.atMs),
        start_uncertainty_s: seconds(hold.start.uncertaintyMs),
        end_uncertainty_s: hold.end === undefined ? null : seconds(hold.end.uncertaintyMs),
        start_declared_at_s: declared(hold.start, said?.start.declaredAtMs),
        end_declared_at_s: hold.end === undefined ? null : declared(hold.end, said?.end?.declaredAtMs),
        source: sourceOf(hold),
        confidence: rounded(hold.confidence ?? null),
        measures: Object.fromEntries(
          measureTable.map(({ key }) => [measureName(key), rounded(measures[key] ?? null)]),
        ),
      };
    }),
    alarms: recording.alarms.map(({ raisedAtMs, passedAtMs, kind, value, worstValue }) => ({
      at_s: seconds(raisedAtMs),
      kind: measureName(kind),
      value: rounded(value),
      worst_value: rounded(worstValue),
      passed_at_s: passedAtMs === null ? null : seconds(passedAtMs),
    })),
  };
}

function sourceOf({ start, end, proposed }: Hold): AnalysisHold['source'] {
  if (start.source === 'corrected' || end?.source === 'corrected') return 'corrected';
  if (start.source === 'mark' && (end === undefined || end.source === 'mark')) return 'mark';
  return proposed === true ? 'proposed' : 'detected';
}

const clock = (s: number | null): string =>
  s === null ? '-' : `${Math.floor(s / 60)}:${(s % 60).toFixed(1).padStart(4, '0')}`;

/** The same for a person to read: holds in rows, their measures, the session, alarms. Ends with a line break. */
export function toAnalysisTable(analysis: AnalysisJson, session: SessionMeasures): string {
  const lines: string[] = [];
  const plusMinus = (value: number | null): string => (value === null ? '' : ` ±${value.toFixed(1)}`);
  lines.push(analyzeWords.holdsHead);
  analysis.holds.forEach((hold, i) => {
    lines.push(
      [
        String(i + 1).padEnd(6),
        `${clock(hold.start_s)}${plusMinus(hold.start_uncertainty_s)}`.padEnd(15),
        `${clock(hold.end_s)}${plusMinus(hold.end_uncertainty_s)}`.padEnd(15),
        hold.source.padEnd(10),
        `${clock(hold.start_declared_at_s)} / ${clock(hold.end_declared_at_s)}`,
      ].join(''),
    );
  });
  if (analysis.holds.length === 0) {
    lines.push(analyzeWords.noHolds);
  }
  const labelWidth = Math.max(...measureTable.map(({ key }) => labelOf(key).length)) + 2;
  const measureLine = (label: string, unit: string, values: readonly string[]): string =>
    label.padEnd(labelWidth) + unit.padEnd(6) + values.map((value) => value.padStart(10)).join('');
  lines.push(
    '',
    measureLine(
      'measure',
      'unit',
      analysis.holds.map((_, i) => String(i + 1)),
    ),
  );
  for (const { key, unit } of measureTable) {
    const values = analysis.holds.map((hold) => {
      const value = hold.measures[measureName(key)] ?? null;
      return value === null ? analyzeWords.notKnown : value.toFixed(Math.abs(value) >= 100 ? 0 : 1);
    });
    lines.push(measureLine(labelOf(key), unit, values));
  }
  lines.push('', 'session');
  for (const [key, value] of Object.entries(session.values)) {
    lines.push(
      `  ${measureName(key).padEnd(32)}${value === null ? analyzeWords.notKnown : value.toFixed(2)}`,
    );
  }
  for (const sentence of session.notKnown) {
    lines.push(`  ${sayInEnglish(sentence)}`);
  }
  lines.push('', 'alarms', `  ${'at'.padEnd(12)}${'passed at'.padEnd(12)}${''.padEnd(28)}value  worst`);
  for (const alarm of analysis.alarms) {
    const number = (value: number | null): string => (value === null ? '' : value.toFixed(1)).padEnd(7);
    lines.push(
      `  ${clock(alarm.at_s).padEnd(12)}${clock(alarm.passed_at_s).padEnd(12)}${alarm.kind.padEnd(28)}${number(alarm.value)}${number(alarm.worst_value)}`.trimEnd(),
    );
  }
  if (analysis.alarms.length === 0) {
    lines.push('  none');
  }
  return `${lines.join('\n')}\n`;
}
