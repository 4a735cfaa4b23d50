// The words of looking back: holds side by side, weeks, timing by hand, corrections, the report. Part of `en`.

import type { TrendKey } from '../../src/sessions/session-summary.ts';

const count = (number: number, one: string, more: string) => `${number} ${number === 1 ? one : more}`;

export const enHistory = {
  compare: {
    title: 'Holds side by side',
    lead: 'One athlete’s holds over one another. The band is this athlete’s own middle half; nobody else’s.',
    open: 'Holds side by side',
    back: 'The recording',
    backToWeeks: 'Weeks',
    athlete: 'Athlete',
    align: 'Line up at',
    alignments: { start: 'Start', contraction: 'First contraction', end: 'End' },
    sessions: 'Sessions',
    olderSessions: (number: number) => `${count(number, 'older session', 'older sessions')}`,
    holds: 'Holds',
    hold: (number: number) => `Hold ${number}`,
    holdOf: (number: number, when: string) => `Hold ${number}, ${when}`,
    highlight: 'Bring forward',
    show: 'Show',
    none: 'No hold in the chosen sessions. Choose another, or record one.',
    noSessions: 'Nothing recorded yet for this athlete. Holds appear here when a session has ended.',
    leftOut: (number: number, what: 'contraction' | 'end') =>
      what === 'contraction'
        ? `${count(number, 'hold has', 'holds have')} no contraction mark and cannot be lined up there.`
        : `${count(number, 'hold has', 'holds have')} no end in the recording and cannot be lined up there.`,
    bandOf: (number: number) =>
      `Line in the band: median of ${number} holds. Band: their middle half (quartiles).`,
    bandTooFew: 'A median band needs three holds.',
    bandUntilEnd: 'A hold counts in the band up to its own end.',
    plot: (what: string, align: string, number: number) =>
      `${what} of ${count(number, 'hold', 'holds')}, lined up at: ${align}`,
    spo2: 'Saturation, %',
    heartRate: 'Heart rate, /min',
    failed: (message: string) =>
      `The holds could not be read: ${message}. Try again, or leave this session out.`,
    simulated: 'SIMULATED: at least one hold here comes from a simulator or a replay.',
    loading: 'Reading the holds',
    startsAt: 'start',
    endsAt: 'end',
    onset: 'first contraction',
    lasted: (text: string) => `lasted ${text}`,
    contractionAt: (text: string) => `first contraction at ${text}`,
    noContraction: 'no contraction marked',
  },
  weeks: {
    nav: 'Weeks',
    title: 'Weeks',
    lead: 'One athlete’s own sessions over time. They change with sleep, food, warmth, lungs and mood; a number that moves is a question for you and your instructor, not a result.',
    athlete: 'Athlete',
    span: 'Show',
    spans: { 84: '12 weeks', 182: 'Half a year', 371: 'A year' } as Readonly<Record<number, string>>,
    empty: 'No ended session of this athlete yet. Record one, or write training into the log.',
    toLog: 'Training log',
    toSetup: 'Set up a session',
    working: (done: number, all: number) => `Working out ${all - done} of ${all} sessions for the first time`,
    waits: 'A session is being recorded. Sessions not worked out before are left until it has ended.',
    unreadable: (number: number) =>
      `${count(number, 'recording', 'recordings')} could not be read and ${number === 1 ? 'is' : 'are'} left out. Open it under Recordings to see why.`,
    failed: (message: string) => `The sessions could not be read: ${message}`,
    again: 'Try again',
    compare: 'Holds side by side',
    trends: 'Measures over time',
    legend:
      'Dot: median of a session’s holds. Bar: their least and greatest. Line and band: median and middle half of the session medians within two weeks either side, where there are at least five; no line is forced through fewer, or across a break of four weeks.',
    comfort: 'Comfort',
    comfortDefinition: 'As said after holds of a plan, or in the training log. 1 very uncomfortable, 5 easy.',
    unitOf: { s: 'min:s', '%': '%', '/min': '/min', comfort: '1 to 5' } as Readonly<Record<string, string>>,
    noValues: 'Not known from these sessions.',
    lastFourWeeks: (median: string, interval: string | null, sessions: number) =>
      `Last four weeks: ${median}${interval === null ? '' : ` (95\u202f% interval ${interval})`}, ${count(sessions, 'session', 'sessions')}.`,
    fourBefore: (median: string, interval: string | null, sessions: number) =>
      `Four before: ${median}${interval === null ? '' : ` (${interval})`}, ${count(sessions, 'session', 'sessions')}.`,
    change: {
      higher: 'The intervals lie apart: higher now.',
      lower: 'The intervals lie apart: lower now.',
      unclear: 'No clear change.',
    },
    tooFew: 'Too few sessions for an interval; six are needed.',
    plot: (what: string, sessions: number) => `${what} over ${count(sessions, 'session', 'sessions')}`,
    calendar: 'Calendar',
    calendarLegend:
      'Square: time held that day, larger for more. Ring: training in the log without sensors. Minutes and seconds are time held.',
    week: 'Week of',
    weekdays: ['Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat', 'Sun'] as readonly string[],
    load: 'Load',
    weekLoad: (sessions: number, held: string) => `${count(sessions, 'session', 'sessions')}, ${held}`,
    dayLabel: (day: string, sessions: number, held: string, entries: number) =>
      `${day}: ${count(sessions, 'session', 'sessions')}, ${held} held${entries === 0 ? '' : `, ${count(entries, 'log entry', 'log entries')}`}`,
    advice: 'To talk over with your instructor',
    noAdvice: 'Nothing stands out.',
    adviceWhy: 'Why',
    adviceSource: 'Source',
    adviceFailed: (message: string) => `Advice could not be worked out: ${message}`,
    sessions: 'Sessions',
    measures: {
      durationS: 'Duration',
      timeToFirstContractionS: 'Contraction onset',
      spo2FallPercent: 'Saturation fall',
      spo2LowestAfterEndS: 'Saturation lag after the end',
      heartRateFallPercent: 'Heart-rate response',
      timeBackTo95S: 'Saturation recovery',
      heartRateBackS: 'Heart-rate recovery',
    } satisfies Record<TrendKey, string>,
    table: 'As a table',
    date: 'Date',
    holds: 'Holds',
    simulated: 'SIMULATED: at least one session here comes from a simulator or a replay.',
  },
};
