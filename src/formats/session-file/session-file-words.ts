// The words inside session files. Not translated: whoever unpacks one should find them whatever the writer's language.

const notMedical = 'Recorded with Slackwater, which is not a medical device.';

export const sessionFileWords = {
  notMedical,
  simulated: `SIMULATED: no person was measured. ${notMedical}`,
} as const;
