// The words inside CSV and Parquet files. Not translated: an import looks for them in comments (SIMULATED, the beginning),
// whatever the language of whoever wrote the file.

import type { HoldForFile } from '../../../src/formats/hold-for-file.ts';
import { measureText } from './measure-text.ts';

const simulatedText = 'SIMULATED: no person was measured';

export const csvPreambleWords = {
  first: '# Slackwater recording. Not a medical device.',
  simulated: `# ${simulatedText}`,
  title: (title: string) => `# title: ${title}`,
  startedInUtc: (isoText: string, zone: string) =>
    `# started in UTC: ${isoText} (local times are of ${zone})`,
  leftOut: (count: number) => `# samples of bad quality left out: ${count}`,
  alarm: (seconds: string, priority: string, message: string) =>
    `# alarm at ${seconds} s, ${priority} priority: ${message}`,
  change: (seconds: string, text: string) => `# change at ${seconds} s: ${text}`,
  /** A line of what it is, and one of how it felt where that was said. */
  hold: (number: number, hold: HoldForFile): readonly string[] => [
    [
      `# hold ${number}${hold.isProposed ? ' (proposed, not accepted)' : ''}: ${measureText(hold.startMs / 1_000)} s (${hold.start}) to`,
      hold.endMs === null
        ? 'no end'
        : `${measureText(hold.endMs / 1_000)} s (${hold.end}), duration ${measureText((hold.endMs - hold.startMs) / 1_000)} s`,
      ...(hold.lowestSpo2 === null
        ? []
        : [`; lowest reading ${hold.lowestSpo2.value} % at ${measureText(hold.lowestSpo2.atMs / 1_000)} s`]),
    ]
      .join(' ')
      .replace(' ;', ';'),
    ...(hold.comfort === null && hold.feeling === null
      ? []
      : [
          `# hold ${number} felt: ${[hold.comfort === null ? '' : `${hold.comfort} of 5`, hold.feeling ?? ''].filter((part) => part !== '').join(', ')}`,
        ]),
  ],
} as const;

export const parquetWords = {
  description: 'Slackwater recording. Not a medical device. time_s is seconds from started_utc.',
  simulated: simulatedText,
} as const;

export const changeWords = {
  joined: 'came to the session',
  left: 'left the session',
  sensorGiven: 'from here on wears',
  sensorTaken: 'no longer wears',
  /** `by` names a device, empty for the hub's own machine. */
  whole: (change: string, sensor: string, by: string) =>
    `${[change, sensor].filter((part) => part !== '').join(' ')} (by ${by === '' ? 'the hub\u2019s own machine' : by})`,
} as const;
