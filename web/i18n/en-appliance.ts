// Words about the hub as a thing that stands there, in English: its computer, its certificate, and how devices come to trust it.

export const enComputer = {
  title: 'The hub\u2019s computer',
  link: 'Check the hub\u2019s computer',
  lead: 'What the computer under the hub offers, and what to do where something is missing.',
  notYet: 'Not looked at yet.',
  checking: 'Looking. This takes some seconds.',
  summary: (look: number, faults: number) =>
    faults + look === 0
      ? 'All good.'
      : [
          faults === 0 ? '' : faults === 1 ? '1 fault' : `${faults} faults`,
          look === 0 ? '' : look === 1 ? '1 thing to look at' : `${look} things to look at`,
        ]
          .filter((part) => part !== '')
          .join(', ')
          .concat('.'),
  at: (time: string) => `Looked at ${time}.`,
  again: 'Check again',
  state: { good: 'good', warning: 'look', fault: 'fault' },
  sameAs:
    'The same as \u201cslackwater doctor\u201d in a terminal of that computer. It runs beside the hub: a session that is recorded goes on undisturbed, and the disk\u2019s speed is not measured meanwhile.',
};
