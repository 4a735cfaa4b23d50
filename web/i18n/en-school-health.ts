// The words of the page on how a school is doing, in English.

export const enSchoolHealth = {
  title: 'How the school is doing',
  lead: 'What hubs send waits in the message server until the archive has it. Nothing here is needed for an alarm of a room.',
  well: 'The archive takes in what comes.',
  notWell: 'The archive takes in nothing now. Hubs keep what they have and send it later.',
  serverAway: 'The message server does not answer.',
  archiveAway: 'The database does not answer.',
  waiting: (count: string, bytes: string, most: string) =>
    `Waiting for the archive: ${count} messages, ${bytes} of at most ${most}.`,
  archiveSize: (bytes: string) => `The archive fills ${bytes} of disk.`,
  diskFree: (bytes: string) => `Free on the school's computer: ${bytes}.`,
  table: 'Hubs',
  hub: 'Hub',
  heard: 'Last heard',
  kept: 'Last kept in the archive',
  inWaiting: 'Waiting',
  putAside: 'Put aside',
  now: 'now',
  never: 'not since the school began',
  unknown: 'not known',
  inSession: 'in a session',
  putAsideHint:
    'Put aside is what could not be understood, for example from another version. It is kept as it came, in the table "refused".',
  none: 'No hub has been heard yet.',
  again: 'Look again',
  aside: {
    title: 'Earlier copies that hold more',
    lead: 'A hub that was put back from a backup, or lost its power, sent these recordings anew. The new copy is shown; the earlier one has packets that the new one has not, and is kept.',
    packets: (aside: string, shown: string) => `${aside} packets in it, ${shown} in the copy that is shown`,
    open: 'Recording',
    openWhat: (what: string) => `Open the recording ${what}`,
    file: 'Packets as a file',
    fileWhat: (what: string) => `Download the packets of the earlier copy of ${what}`,
    failed: (message: string) => `Whether there are earlier copies could not be read: ${message}`,
  },
  link: 'How the school is doing',
};
