// The words of same against same in the weeks, of what is noted of a session, and of finding recordings. Part of `en`.

import type { HoldLungs } from '../../shared/schema-parts.ts';
import type { SessionDetails } from '../../shared/session-details.ts';

const sessions = (number: number) => (number === 1 ? '1 session' : `${number} sessions`);
const littleData = (little: boolean) => (little ? ' That is little data.' : '');

export const enWeeksMore = {
  waits: (number: number) =>
    `${sessions(number)} will be worked out when the session that is being recorded has ended.`,
  trend: {
    none: 'Not known from any session of the last four weeks.',
    few: (number: number, median: string) =>
      `${median} over ${sessions(number)} of the last four weeks: too few to say whether it changes.`,
    moved: {
      up: (from: string, to: string, days: number, number: number, little: boolean) =>
        `Rose from ${from} to ${to} within ${days} days, over ${sessions(number)}.${littleData(little)}`,
      down: (from: string, to: string, days: number, number: number, little: boolean) =>
        `Fell from ${from} to ${to} within ${days} days, over ${sessions(number)}.${littleData(little)}`,
    },
    alone: (now: string, number: number, little: boolean) =>
      `${now} over ${sessions(number)} of the last four weeks, without a clear change, and none in the four before to compare.${littleData(little)}`,
    beside: {
      higher: (now: string, number: number, before: string, numberBefore: number, little: boolean) =>
        `Higher than before: ${now} over ${sessions(number)} of the last four weeks, after ${before} over ${numberBefore} in the four before.${littleData(little)}`,
      lower: (now: string, number: number, before: string, numberBefore: number, little: boolean) =>
        `Lower than before: ${now} over ${sessions(number)} of the last four weeks, after ${before} over ${numberBefore} in the four before.${littleData(little)}`,
      unclear: (now: string, number: number, before: string, numberBefore: number, little: boolean) =>
        `No clear change: ${now} over ${sessions(number)} of the last four weeks, after ${before} over ${numberBefore} in the four before.${littleData(little)}`,
    },
    point: (day: string, value: string) => `${day}: ${value}`,
    openPoint: (point: string) => `${point}. Open the recording`,
  },
  load: {
    legend:
      'Load: effort (easy 2, medium 3, hard 5) times minutes of the whole session, whatever was trained (session-RPE, Foster et al. 2001); only where effort and length are known.',
    ofWeek: (load: number, unknown: number) =>
      unknown === 0 ? `load ${load}` : `load ${load}, ${unknown} not known`,
  },
  filter: {
    title: 'Only sessions alike',
    all: 'All',
    plan: 'Plan',
    tag: 'Tag',
    place: 'Place',
    lungs: 'Lungs',
    lungsWords: { full: 'Full', half: 'Half', emptied: 'Emptied' } satisfies Record<HoldLungs, string>,
    found: (found: number, all: number) => `${found} of ${sessions(all)}.`,
    clear: 'Show all again',
    none: 'No session like this. Choose another, or show all again.',
    nothing:
      'To compare like with like, run sessions by a plan, mark lungs, or note place and tags in a recording: then they can be chosen here.',
  },
  pair: {
    open: 'Session against session',
    title: 'Session against session',
    lead: 'Two of this athlete’s sessions, row by row. Rows are those of the plan where both were run by the same one, else the holds in their order.',
    one: 'Session',
    other: 'Beside',
    samePlan: 'Same plan, last time',
    eightWeeks: 'Eight weeks before',
    noSamePlan: 'No earlier session by the same plan.',
    noEightWeeks: 'No session within ten days of eight weeks before.',
    few: 'Two sessions with holds are needed. Record another, and it can be compared here.',
    byPlan: (plan: string) => `Rows of “${plan}”.`,
    byOrder: 'Holds in their order: not run by the same plan.',
    row: 'Row',
    hold: 'Hold',
    difference: (text: string) => `difference ${text}`,
    noRow: 'not done',
    caution:
      'One session beside one other says little: sleep, food, warmth and mood alone move each of these numbers.',
    plot: (measure: string) => `${measure}, row by row`,
    conditions: 'Noted',
    notNoted: 'nothing noted',
  },
  beside: {
    open: 'Two side by side',
    title: 'Two side by side',
    lead: 'The same measures twice on one scale: one athlete by two plans, tags, places or lungs, or two athletes who agreed to it. What differs may have any cause.',
    left: 'Left',
    right: 'Right',
    athlete: 'Athlete',
    consent: (name: string) => `${name} agrees to be shown beside others`,
    consentWhy:
      'Ask them first. It is kept with the date in the audit log and can be taken back at any time; until they agree, nothing of theirs is shown here.',
    consentNeeded: (name: string) => `Nothing is shown of ${name} until they have agreed.`,
    failed: (reason: string) => `Could not be kept: ${reason}`,
    all: 'all sessions',
    median: (value: string, number: number) => `Median ${value}, ${sessions(number)}`,
    noValues: 'Not known from these sessions.',
    same: 'Both sides show the same sessions. Choose another plan, tag, place or athlete for one of them.',
  },
  details: {
    title: 'Notes on this session',
    nothing: 'Nothing noted yet',
    effort: 'How hard it was, as a whole',
    efforts: { easy: 'Easy', medium: 'Medium', hard: 'Hard' } satisfies Record<
      NonNullable<SessionDetails['effort']>,
      string
    >,
    unsaid: 'Not said',
    company: 'With them',
    companies: { alone: 'Nobody', accompanied: 'Somebody' } satisfies Record<
      NonNullable<SessionDetails['company']>,
      string
    >,
    buddy: 'Who',
    place: 'Place',
    tags: 'Tags, with commas between',
    sleep: 'Sleep the night before',
    sleeps: { poor: 'Poor', fair: 'Fair', good: 'Good' } satisfies Record<
      NonNullable<SessionDetails['sleep']>,
      string
    >,
    food: 'Stomach',
    foods: { empty: 'Empty', light: 'Light', full: 'Full' } satisfies Record<
      NonNullable<SessionDetails['food']>,
      string
    >,
    illness: 'Health',
    illnesses: { well: 'Well', unwell: 'Not quite well', ill: 'Ill' } satisfies Record<
      NonNullable<SessionDetails['illness']>,
      string
    >,
    illCaution:
      'Hold no breath while ill, and not until some days after a fever. Ask a doctor when in doubt.',
    aloneCaution: 'Have someone beside you for hard holds; leave them out on days when nobody is there.',
    note: 'Anything else',
    minutes: 'How long in all, minutes',
    save: 'Save the notes',
    saved: 'Noted.',
    failed: (reason: string) => `Not saved: ${reason}`,
    tooMany: 'At most 12 tags of 40 letters each.',
    short: {
      effort: (word: string) => `effort ${word.toLowerCase()}`,
      alone: 'nobody there',
      with: (name: string) => `with ${name}`,
      accompanied: 'somebody there',
      sleep: (word: string) => `sleep ${word.toLowerCase()}`,
      food: (word: string) => `stomach ${word.toLowerCase()}`,
    },
  },
  reassign: {
    open: 'Belongs to somebody else',
    title: (name: string) => `Give ${name}’s part to another athlete`,
    text: 'Everything recorded of this person here, with holds, marks, alarms and corrections, becomes the other’s. It is written into the audit log for both, and can be given back in the same way. Runs of plans, and what the forecast had learnt from these holds, stay as they are.',
    to: 'To',
    none: 'Nobody else is on the list. Add the athlete first.',
    choose: 'Choose',
    give: 'Give it to them',
    done: (name: string) => `It is ${name}’s now.`,
    failed: (reason: string) => `Not changed: ${reason}`,
  },
  table: {
    comfortable: 'A hold that is comfortable',
    byHand: 'Made round the hold that you have set.',
    asking: 'Looking at what is known of their holds',
  },
  list: {
    tag: 'Tag',
    place: 'Place',
    plan: 'Plan',
    condition: 'Condition',
    conditions: {
      hard: 'Hard',
      alone: 'Nobody there',
      poorSleep: 'Poor sleep',
      unwell: 'Unwell or ill',
      withoutNotes: 'Nothing noted',
    },
    loading: 'Looking',
  },
};
