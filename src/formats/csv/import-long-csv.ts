// The long text format as a recording, a piece at a time. What this program wrote itself comes back as it was.

import { ok } from '../../result.ts';
import type { ImportSink, ReadResult, TextSource } from '../import-file.ts';
import { civilMomentOf } from '../tables/dates.ts';
import { createCsvReader } from './csv-reader.ts';
import { type CsvRow, csvHeader, csvHeaderWithQuality } from './csv-row.ts';

export interface LongCsvHead {
  readonly athleteName: string | null;
  readonly title: string | null;
  readonly startedWallAtMs: number | null;
}

/** Half the resolution of a time written to the millisecond, or to the thousandth of one. */
const halfOfMs = 0.499;
const halfOfUs = 0.000_5;

/** Alarms, changes and holds stand in it, a line each: characters enough for hundreds of them. */
const longestHead = 250_000;

const headers = new Set([csvHeader, csvHeaderWithQuality]);

/** Undefined for a text that is no such file: its first line that is no comment must be the header. */
export function longCsvHeadOf(source: TextSource): LongCsvHead | undefined {
  let head = '';
  for (const piece of source.pieces()) {
    head += piece;
    if (head.length > longestHead) break;
  }
  const lines = head.replace(/^\uFEFF/, '').split(/\r?\n/);
  const at = lines.findIndex((line) => !line.startsWith('#') && line.trim() !== '');
  if (at < 0 || !headers.has(lines[at]!.replaceAll(/["\s]/g, ''))) return undefined;
  const headingValue = (name: string): string | undefined =>
    lines
      .slice(0, at)
      .find((line) => line.startsWith(`# ${name}: `))
      ?.slice(name.length + 4)
      .trim();
  const started = headingValue('started');
  const moment = started === undefined ? undefined : civilMomentOf(started, 'yearFirst');
  return {
    athleteName: headingValue('athlete')?.slice(0, 80) ?? null,
    title: headingValue('title')?.slice(0, 200) ?? null,
    startedWallAtMs: moment === undefined ? null : moment.civilMs - (moment.offsetMinutes ?? 0) * 60_000,
  };
}

export function readLongCsv(source: TextSource, head: LongCsvHead, sink: ImportSink): ReadResult {
  const reader = createCsvReader();
  let endMs = 0;
  const take = (row: CsvRow): void => {
    endMs = row.timeMs;
    if (row.kind === 'mark') sink.mark({ kind: row.mark, atMs: row.timeMs, text: null });
    else if (row.kind === 'note')
      sink.mark({ kind: 'note', atMs: row.timeMs, text: row.text.slice(0, 2_000) });
    else {
      const half = Number.isInteger(row.timeMs) ? halfOfMs : halfOfUs;
      sink.sample(
        row.channel,
        row.timeMs,
        row.timeMs - half,
        row.timeMs + half,
        row.value,
        row.quality ?? 'good',
      );
    }
  };
  for (const piece of source.pieces()) {
    const rows = reader.push(piece);
    if (!rows.ok) return rows;
    for (const row of rows.value) take(row);
  }
  const last = reader.finish();
  if (!last.ok) return last;
  for (const row of last.value.rows) take(row);
  const { notice, simulated } = last.value.summary;
  return ok({
    startedWallAtMs: head.startedWallAtMs,
    beginMs: 0,
    endMs: Math.ceil(endMs),
    simulated,
    notices: notice === null ? [] : [notice],
  });
}
