// The measures of a recording's holds as CSV: a row a hold, a column a measure of measure-table.ts, its unit in its name.
// An empty cell is what the signals do not tell.

import type { Athlete, SessionView } from '../../../shared/views.ts';
import { quotedText } from '../../../src/formats/csv/csv-writer.ts';
import type { HoldForFile } from '../../../src/formats/hold-for-file.ts';
import type { LocalTime } from '../../../src/formats/import-file.ts';
import { measureTable } from '../../../src/holds/measure-table.ts';
import { localIsoText } from './csv-of-recording.ts';
import { measureName, measureText } from './measure-text.ts';
import { csvPreambleWords } from './table-words.ts';

const headings = [
  'hold',
  'started',
  'start_s',
  'end_s',
  'start_source',
  'end_source',
  'proposed',
  'comfort_1_to_5',
  'feeling',
  ...measureTable.map(({ key }) => measureName(key)),
];

export function measuresCsv(
  session: SessionView,
  athlete: Pick<Athlete, 'name'>,
  holds: readonly HoldForFile[],
  zone: LocalTime,
): string {
  const lines = [
    csvPreambleWords.first,
    ...(session.simulated ? [csvPreambleWords.simulated] : []),
    `# athlete: ${oneLine(athlete.name)}`,
    ...(session.title === '' ? [] : [csvPreambleWords.title(oneLine(session.title))]),
    `# started: ${localIsoText(session.startedWallAtMs, zone)}`,
    headings.join(','),
    ...holds.map((hold, index) =>
      [
        index + 1,
        localIsoText(session.startedWallAtMs + hold.startMs, zone),
        measureText(hold.startMs / 1_000),
        hold.endMs === null ? '' : measureText(hold.endMs / 1_000),
        hold.start,
        hold.end ?? '',
        hold.isProposed ? 'yes' : 'no',
        hold.comfort ?? '',
        hold.feeling === null ? '' : quotedText(inert(hold.feeling)),
        ...hold.measures.map(({ value }) => (value === null ? '' : measureText(value))),
      ].join(','),
    ),
  ];
  return `${lines.join('\n')}\n`;
}

/** A cell that begins like a formula is one to a spreadsheet. */
const inert = (text: string): string => (/^[=+@\t\r-]/.test(text) ? `'${text}` : text);

const oneLine = (text: string): string => text.replaceAll(/[\r\n]/g, ' ');
