// Training without sensors in English: advice with its reasons and sources, and cautions of log entries.

import type { Formats } from './formats.ts';

export interface Count {
  readonly count: number;
}

export const trainingWordsInEnglish = {
  'source.commonPractice': 'common practice, no source',
  'source.oneToOne':
    'published general guidance: direct one-to-one supervision (Alert Diver, Spring 2016, citing the 2006 UHMS/DAN workshop)',
  'source.fingerLag':
    'design choice; a finger reads later and shallower than the body (Lindholm 2007, Aviat Space Environ Med 78:770-773)',
  'source.sessionsAWeek': 'common practice, no source: two a week are good, three the most',
  'source.intervalGrows':
    'common practice, no source: once most holds leave about a minute, the interval grows by a minute',

  'advice.afterAbort':
    'Talk over with an instructor what happened before the next hold, and rest until everyone is satisfied that all is well.',
  'advice.afterAbort.because': 'A hold of the last session was called off.',
  'advice.notAlone':
    'Have someone beside you for hard holds and maximal walks; leave them out on days when nobody is there.',
  'advice.notAlone.because': ({ count }: Count) =>
    `${count} hard or maximal ${count === 1 ? 'session' : 'sessions'} in four weeks had nobody named beside you.`,
  'advice.lowSaturation': 'Consider shorter holds, or a higher floor so that the alarm comes earlier.',
  'advice.lowSaturation.because': (p: { readonly low: number; readonly all: number }) =>
    `In ${p.low} of the last ${p.all} measured sessions saturation reached the floor or went below it.`,
  'advice.easyWeek': 'Consider an easy week: fewer sessions, shorter holds, nothing maximal.',
  'advice.hardDaysInARow.because': ({ count }: Count) => `${count} hard days in a row within the last week.`,
  'advice.fallingComfort.because': (
    p: { readonly now: number; readonly before: number },
    { number }: Formats,
  ) =>
    `Comfort of the last three sessions averages ${number(p.now, 1)} of 5, after ${number(p.before, 1)} in the three before.`,
  'advice.uncomfortable':
    'Make the next session an easy one, and stop each hold while it is still comfortable.',
  'advice.uncomfortable.because': (p: { readonly comfort: number }) =>
    `The last session was marked ${p.comfort} of 5 for comfort.`,
  'advice.tooManySessions': 'Leave out a session or two this week.',
  'advice.tooManySessions.because': ({ count }: Count) => `${count} sessions in the last seven days.`,
  'advice.enoughThisWeek': 'That is enough for this week; rest before the next session.',
  'advice.enoughThisWeek.because': 'Three sessions in the last seven days.',
  'advice.recoveryDay': 'Keep a day without holds after a hard one.',
  'advice.recoveryDay.because': 'The last session, less than a day ago, was hard.',
  'advice.maximalOften': 'Leave maximal holds out for a while.',
  'advice.maximalOften.because': ({ count }: Count) => `${count} maximal efforts in the last seven days.`,
  'advice.afterABreak': 'Begin again easily: fewer and shorter holds than before the break.',
  'advice.afterABreak.because': (p: { readonly days: number }) => `The last session was ${p.days} days ago.`,
  'advice.lengthenInterval': 'Make the interval a minute longer next time, for more recovery.',
  'advice.lengthenInterval.because': (p: { readonly short: number; readonly all: number }) =>
    `${p.short} of ${p.all} holds of the last series left about a minute or less.`,

  'entry.walkAlone':
    'A maximal walk alone: a faint while walking is a fall with nobody to help. Have someone beside you, on soft level ground, or walk to a length set before.',
  'entry.holdAlone': 'A maximal hold alone: have someone in the room who watches and knows what to do.',
  'entry.inWaterOneBreath':
    'On one breath in water: your buddy watches you and nothing else, within reach, and for at least 30 s after you surface.',
};
