// The words of what can be taken back: the bar, drafts, the bin, names and titles. Part of `en`.

import type { BinnedKind } from '../../shared/bin.ts';

const days = (number: number) => (number === 1 ? '1 day' : `${number} days`);

export const enTakeBack = {
  region: 'What you can take back',
  undo: 'Undo',
  key: 'Ctrl Z',
  dismiss: 'Close this message',
  failed: (reason: string) => `Could not be taken back: ${reason}`,
  planRunEnded: 'The plan was ended.',
  goOn: 'Go on with it',
  planDeleted: (title: string) => `"${title}" is in the bin.`,
  planRunDeleted: (title: string) => `The run of "${title}" is in the bin.`,
  entryDeleted: 'The entry is in the bin.',
  recordingDeleted: (title: string) => `"${title}" is in the bin.`,
  partDeleted: (name: string, title: string) => `The part of ${name} in "${title}" is in the bin.`,
  athleteRemoved: (name: string) => `${name} is off the list, and in the bin.`,
  draftKept: (what: string) => `${what}: what you had not saved is kept here as a draft.`,
  backToDraft: 'Back to it',
  dropDraft: 'Throw it away',
  draftTaken: (at: string) => `This is what you had not saved, from ${at}.`,
  draftDropped: 'What was not saved is put away.',
  startAfresh: 'Without it',
  newHoldLeft: 'The new hold was not saved.',
  newMarkLeft: 'The new mark was not saved.',
  changedHoldLeft: 'The change to the hold was not saved.',
  bringBack: 'Bring it back',
  drafts: {
    plan: (title: string) => `Plan "${title}"`,
    entry: 'Entry of the log',
    note: 'Note',
    correction: 'Correction',
  },
};

export const enBin = {
  title: 'Bin',
  open: 'Bin',
  back: 'All recordings',
  lead: (keptDays: number) =>
    `What was deleted is kept here for ${days(keptDays)}, then it goes for good. Erasing an athlete empties it of them at once.`,
  empty: 'Nothing is in the bin.',
  failed: (reason: string) => `The bin could not be read: ${reason}`,
  kinds: {
    recording: 'Recording',
    part: 'Part of a recording',
    athlete: 'Athlete',
    plan: 'Plan',
    planRun: 'Run of a plan',
    entry: 'Entry of the log',
  } satisfies Record<BinnedKind, string>,
  whom: (names: string) => `Takes: ${names}`,
  unnamed: 'an athlete who is not on the list',
  deletedAt: (at: string) => `deleted ${at}`,
  left: (number: number) => `still here for ${days(number)}`,
  restore: 'Put back',
  restoreWhat: (what: string) => `Put back: ${what}`,
  restored: (what: string) => `Put back: ${what}`,
  remove: 'Delete for good',
  removeTitle: (what: string) => `Delete for good: ${what}?`,
  removeText: 'Then nobody can bring it back, but for a backup made before.',
};

export const enNames = {
  edit: (name: string) => `Change or remove ${name}`,
  editShort: 'Change …',
  name: 'Name',
  rename: 'Save the name',
  everywhere: 'Recordings, reports and files go by the new name from now on, earlier ones too.',
  remove: 'Take off the list',
  removeText: (name: string) =>
    `${name}’s recordings stay. Sensors remembered for ${name} are free again, and devices joined for ${name} are let out.`,
  inSession: 'In the running session: end it first.',
  sessionTitle: 'Title',
  editTitle: 'Title, led by ...',
  saveTitle: 'Save',
  ledBy: 'Led by',
  ledByLine: (names: string) => `Led by ${names}`,
  ledByHint:
    'Stands in the recording, and recordings are found by it. Several with commas; empty for the name of a joined coach’s device.',
  titleHint: 'Of this session, if you want one. It can be changed afterwards.',
};

export const enList = {
  search: 'Search',
  searchHint: 'Title, name, plan or note',
  narrow: 'By athlete, coach, kind, plan, tag or day',
  athlete: 'Athlete',
  leader: 'Led by',
  all: 'All',
  from: 'From',
  until: 'Until',
  kind: 'Kind',
  kinds: {
    live: 'With sensors',
    simulated: 'Simulated',
    replay: 'Replayed',
    import: 'Imported',
    interrupted: 'Interrupted',
  },
  found: (shown: number, all: number) =>
    `${shown === all ? '' : `${shown} of `}${all === 1 ? '1 recording' : `${all} recordings`}`,
  none: 'No recording fits.',
  clear: 'Show all',
  page: (page: number, pages: number) => `Page ${page} of ${pages}`,
  pages: 'Pages of the list',
  newer: 'Newer',
  older: 'Older',
  longest: (duration: string) => `longest ${duration}`,
  lowest: (percent: string) => `lowest ${percent}`,
  figuresBy: {
    live: 'as told live',
    liveWhy:
      'Holds, longest and lowest as they were told live. They are worked out between sessions and may then change.',
    earlierVersion: 'worked out before',
    earlierVersionWhy:
      'Holds, longest and lowest as an earlier version of the hub worked them out. They are worked out again between sessions.',
  },
  deleteWhole: (names: string) => `All of it: ${names}`,
  deletePart: (name: string) => `Only the part of ${name}`,
  deleteWhat: 'What goes',
};

export const enBackups = {
  title: 'Backups',
  open: 'Backups',
  lead: 'A backup holds everything: recordings, athletes, plans, the log and the bin. Keep one on another disk.',
  failed: (reason: string) => `Not read: ${reason}`,
  takeAway: 'One to download',
  takeAwayText: 'As one file, not locked: whoever has it can read it.',
  makeOne: 'Make one and download it',
  byClock: 'By the clock',
  noSchedule:
    'None yet. Name a folder and a passphrase in the settings, and the hub makes locked backups by itself. A forgotten passphrase cannot be got round.',
  settings: '--backup-folder FOLDER\n--backup-every 24\n--backup-keep 14\nSLACKWATER_BACKUP_PASSPHRASE=…',
  schedule: (hours: number, keep: number, folder: string) =>
    `Every ${hours} h, locked, the newest ${keep} kept, in ${folder}.`,
  noneYet: 'None has been made yet.',
  age: (hours: number) =>
    hours < 48 ? `The newest is ${hours} h old.` : `The newest is ${Math.floor(hours / 24)} days old.`,
  lastFailed: (reason: string) => `The last one could not be made: ${reason}`,
  makeNow: 'Make one now',
  restore: 'Restore from a backup',
  restoreText:
    'Choose a backup file. The hub looks at it first and says what is in it; nothing is changed before you say so.',
  notHere: 'This hub cannot restore by itself. Stop it and run: slackwater restore FILE --replace',
  running: 'A session is running. Restore between sessions: end it first.',
  file: 'Backup file',
  sending: 'Sending the file …',
  looking: 'Looking at it …',
  passphrase: 'It is locked. Its passphrase',
  unlock: 'Unlock and look at it',
  inFile: 'In the backup',
  here: 'Here now',
  holds: (sessions: number, athletes: number) =>
    `${sessions === 1 ? '1 recording' : `${sessions} recordings`}, ${athletes === 1 ? '1 athlete' : `${athletes} athletes`}`,
  newest: (when: string) => `the newest of ${when}`,
  certain: 'Put the backup in the place of what is here now. What is here is moved aside, not deleted.',
  begin: 'Restore',
  restoring: 'The hub stops, restores and starts again. This page waits for it.',
  done: 'The hub is back. Its notice above says what was restored and where the former recordings lie.',
};
