// The words inside WFDB files. Not translated: other programs and other people's scripts look for them.

import type { MarkKind } from '../../../shared/schema-parts.ts';

export const markTexts: Readonly<Record<Exclude<MarkKind, 'note'>, string>> = {
  holdStart: 'hold start',
  holdEnd: 'hold end',
  contraction: 'contraction',
  breathing: 'breathing',
  lungsFull: 'lungs full',
  lungsHalf: 'lungs half full',
  lungsEmptied: 'lungs emptied',
  answered: 'answered',
  stillHolding: 'still holding',
};

export const headerComments = (of: {
  readonly title: string;
  readonly simulated: boolean;
  readonly begins: string;
  readonly zone: string;
  readonly leftOutCount: number;
}): readonly string[] => [
  ...(of.simulated ? ['# SIMULATED: no person was measured'] : []),
  '# Recorded with Slackwater, which is not a medical device.',
  ...(of.title === '' ? [] : [`# Title: ${of.title.replaceAll(/[\r\n]/g, ' ')}`]),
  `# Begins ${of.begins} (UTC); local times are of ${of.zone}`,
  `# Readings of bad quality left out: ${of.leftOutCount}`,
];
