// Writes the long text format. What it writes, the reader reads back as the same rows.

import type { CsvRow } from './csv-row.ts';
import { csvChannels, csvHeader, csvMarkChannel, csvMarks, csvNoteChannel } from './csv-row.ts';

const channelName = new Map(csvChannels.map((entry) => [entry.channel, entry.name]));
const markName = new Map(csvMarks.map((entry) => [entry.mark, entry.name]));

/**
 * The beginning of a file: comment lines, then the header. A recording of simulated data must carry a comment with the
 * word SIMULATED; the reader looks for it.
 */
export function csvPreamble(comments: readonly string[] = []): string {
  const lines = comments.flatMap((comment) => comment.split(/\r\n|\r|\n/)).map((comment) => `# ${comment}`);
  return `${[...lines, csvHeader].join('\n')}\n`;
}

/** Lines for these rows, which the caller gives in order of time. Throws RangeError for a number that is not finite. */
export function csvLines(rows: readonly CsvRow[]): string {
  let text = '';
  for (const row of rows) {
    const time = secondsText(row.timeMs);
    if (row.kind === 'note') {
      text += `${time},${csvNoteChannel},${quotedText(row.text)}\n`;
    } else if (row.kind === 'mark') {
      text += `${time},${csvMarkChannel},${markName.get(row.mark)}\n`;
    } else {
      if (!Number.isFinite(row.value)) throw new RangeError('csv.notFinite');
      text += `${time},${channelName.get(row.channel)},${row.value}\n`;
    }
  }
  return text;
}

/** Quotes doubled, line ends as spaces: a row is a line. */
export const quotedText = (text: string): string =>
  `"${text
    .replaceAll(/[\r\n\u0085\u2028\u2029]+/g, ' ')
    .trim()
    .replaceAll('"', '""')}"`;

/** Seconds with at most six decimals and no trailing zeros. */
function secondsText(timeMs: number): string {
  if (!Number.isFinite(timeMs)) throw new RangeError('csv.notFinite');
  return (timeMs / 1000).toFixed(6).replace(/\.?0+$/, '');
}
