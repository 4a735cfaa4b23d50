// The words inside CSV and Parquet files. Not translated: an import looks for them in comments (SIMULATED, the beginning),
// whatever the language of whoever wrote the file.

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
