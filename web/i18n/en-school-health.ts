// The words of the page on how a school does, in English.

export const enSchoolHealth = {
  title: 'How the school does',
  lead: 'What hubs send waits in the message server until the archive has it. Nothing here is needed for an alarm of a room.',
  well: 'The archive takes what comes.',
  notWell: 'The archive takes nothing now. Hubs keep what they have and send it later.',
  serverAway: 'The message server does not answer.',
  archiveAway: 'The database does not answer.',
  waiting: (count: string, bytes: string, most: string) =>
    `Waiting for the archive: ${count} messages, ${bytes} of at most ${most}.`,
  archiveSize: (bytes: string) => `The archive takes ${bytes}.`,
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
    'Put aside is what could not be understood, such as from another version. It is kept as it came, in the table "refused".',
  none: 'No hub has been heard yet.',
  again: 'Look again',
  link: 'How the school does',
};
