// The words of giving one's own marked recording as a labelled extract. Part of `en`.

import type { OximeterSite } from '../../shared/labelled-extract.ts';
import type { Channel } from '../../shared/schema-parts.ts';

const channels: Readonly<Record<Channel, string>> = {
  spo2Percent: 'Saturation',
  pulseRateBpm: 'Pulse rate',
  heartRateBpm: 'Heart rate',
  rrIntervalMs: 'Intervals between beats',
  perfusionIndexPercent: 'Perfusion index',
  pleth: 'Pulse wave',
};
const sites: Readonly<Record<OximeterSite, string>> = {
  finger: 'Finger',
  ear: 'Ear',
  forehead: 'Forehead',
  wrist: 'Wrist',
  other: 'Elsewhere',
};

export const enExtract = {
  open: 'Give as an extract',
  title: 'Give this recording as an extract',
  lead: 'Long breath-holds of real people are what this program can be checked against, and hardly any are public. If the athlete agrees, save this recording without names and send it to whoever checks the program. Nothing is sent from here.',
  reading: 'Reading the recording',
  failed: (reason: string) => `The extract could not be made: ${reason}`,
  inIt: 'What is in it',
  length: 'Length',
  readings: (count: number) => `${count} readings`,
  channels,
  holds: 'Holds marked at both ends',
  noHolds:
    'No hold is marked at both ends. Mark or correct its start and end on the traces first: what was only detected is no label.',
  hold: (number: number, duration: string) => `Hold ${number}, ${duration}`,
  lungs: { unsaid: 'Not said', full: 'Full lungs', half: 'Half full', emptied: 'Emptied' },
  site: 'Where the oximeter sat',
  unsaid: 'Not said',
  sites,
  everyHold: 'Every hold in this recording is marked',
  wave: 'With the pulse wave',
  notInIt: 'Not in it: names, the day and hour, sensors, notes, settings, alarms.',
  caution:
    'Heart beats differ between people: somebody who has another recording of the same person might recognise them. The athlete decides.',
  agreed: 'The athlete agrees to give it',
  save: 'Save the file',
  simulated: 'SIMULATED: no person was measured. It says so in the file and checks nothing.',
} as const;
