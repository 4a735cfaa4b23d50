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

  'source.sessionLoad':
    'effort times minutes of whole sessions (session-RPE; Foster et al. 2001, J Strength Cond Res 15:109-115); that half as much again is too much is our choice, no limit is proven',

  'advice.calledOff':
    'Talk over with an instructor what happened before the next hold, and rest until everyone is satisfied that all is well.',
  'advice.calledOff.because': (
    p: { readonly hold: number; readonly title: string; readonly day: number; readonly why: string },
    { day }: Formats,
  ) => `Hold ${p.hold} of \u201c${p.title}\u201d on ${day(p.day)} was called off: ${p.why}.`,
  'advice.why.person': 'somebody said stop',
  'advice.why.floorBreached': 'saturation was below the floor',
  'advice.why.heartRateSuddenFall': 'heart rate fell suddenly',
  'advice.why.heartRateLow': 'heart rate was low',
  'advice.why.noBreathingSign': 'no breathing was seen after it',
  'advice.why.saturationNotRecovering': 'saturation did not come back after it',
  'advice.why.other': 'an alarm called',
  'advice.endedEarly':
    'Nothing is lost by ending early. If it had become uncomfortable, plan fewer or shorter holds next time.',
  'advice.endedEarly.because': (
    p: { readonly title: string; readonly day: number; readonly hold: number; readonly all: number },
    { day }: Formats,
  ) => `\u201c${p.title}\u201d on ${day(p.day)} was ended after ${p.hold} of ${p.all} holds.`,
  'advice.floorAlarm':
    'Talk it over with an instructor, and end holds earlier until saturation stays clear of the floor.',
  'advice.floorAlarm.because': (
    p: { readonly count: number; readonly first: number; readonly day: number },
    { day }: Formats,
  ) =>
    p.count === 1
      ? `Hold ${p.first} on ${day(p.day)} set off the alarm of the floor.`
      : `${p.count} holds on ${day(p.day)}, hold ${p.first} the first of them, set off the alarm of the floor.`,
  'advice.notAlone':
    'Have someone beside you for hard holds and maximal walks; leave them out on days when nobody is there.',
  'advice.notAlone.because': ({ count }: Count) =>
    `${count} hard or maximal ${count === 1 ? 'session' : 'sessions'} in four weeks had nobody named beside you.`,
  'advice.lowSaturation': 'Consider shorter holds, or a higher floor so that the alarm comes earlier.',
  'advice.lowSaturation.because': (p: { readonly low: number; readonly all: number }) =>
    `In ${p.low} of the last ${p.all} measured sessions saturation reached the floor or went below it.`,
  'advice.easyWeek': 'Consider an easy week: fewer sessions, shorter holds, nothing maximal.',
  'advice.hardDaysInARow.because': (p: { readonly count: number; readonly day: number }, { day }: Formats) =>
    `${p.count} hard days in a row, up to ${day(p.day)}.`,
  'advice.restDays':
    'Leave holds out for a few days, and talk over with an instructor how to go on. Hard days need easy ones between them.',
  'advice.hardDaysFallingComfort.because': (
    p: { readonly count: number; readonly before: number; readonly now: number },
    { number }: Formats,
  ) =>
    `${p.count} hard days in a row, and comfort fell in them from ${number(p.before, 1)} to ${number(p.now, 1)} of 5.`,
  'advice.fallingComfort.because': (
    p: { readonly now: number; readonly before: number; readonly count: number },
    { number }: Formats,
  ) =>
    `Comfort in the last four weeks fell from ${number(p.before, 1)} to ${number(p.now, 1)} of 5, by ${p.count} sessions.`,
  'advice.uncomfortable':
    'Make the next session an easy one, and stop each hold while it is still comfortable.',
  'advice.uncomfortable.because': (p: { readonly comfort: number }) =>
    `The last session was marked ${p.comfort} of 5 for comfort.`,
  'advice.tooManyDays':
    'Leave out a day or two this week: two days of holds a week are good, more than three too much.',
  'advice.tooManyDays.because': ({ count }: Count) => `Training on ${count} of the last seven days.`,
  'advice.loadRose': 'Make the next week lighter: shorter, easier or fewer sessions.',
  'advice.loadRose.because': (p: { readonly now: number; readonly before: number }, { number }: Formats) =>
    `Effort times minutes came to ${number(p.now)} in the last seven days, after ${number(p.before)} a week in the four weeks before.`,
  'advice.enoughThisWeek': 'That is enough for this week; rest before the next session.',
  'advice.enoughThisWeek.because': 'Training on three of the last seven days.',
  'advice.recoveryDay': 'Keep a day without holds after a hard one.',
  'advice.recoveryDay.because': 'The last session, less than a day ago, was hard.',
  'advice.maximalOften': 'Leave maximal holds out for a while.',
  'advice.maximalOften.because': ({ count }: Count) => `${count} maximal efforts in the last seven days.`,
  'advice.afterABreak': 'Begin again easily: fewer and shorter holds than before the break.',
  'advice.afterABreak.because': (p: { readonly days: number }) => `The last session was ${p.days} days ago.`,
  'advice.lengthenInterval': (p: { readonly fromMs: number; readonly toMs: number }, { clock }: Formats) =>
    `Lengthen the interval from ${clock(p.fromMs)} to ${clock(p.toMs)} next time, for more recovery between the same holds.`,
  'advice.lengthenInterval.because': (
    p: { readonly short: number; readonly all: number; readonly day: number },
    { day }: Formats,
  ) => `${p.short} of ${p.all} holds of the series on ${day(p.day)} left about a minute or less.`,

  'table.ofNothing': (p: { readonly comfortableMs: number }, { clock }: Formats) =>
    `Nothing is known of their holds, so the table begins round a short one of ${clock(p.comfortableMs)}: change it to what is comfortable.`,
  'table.ofFewHolds': (p: { readonly count: number; readonly comfortableMs: number }, { clock }: Formats) =>
    `Only ${p.count} ${p.count === 1 ? 'hold is' : 'holds are'} known of the last eight weeks, so the table begins round a short one of ${clock(p.comfortableMs)}: change it to what is comfortable.`,
  'table.ofOwnHolds': (
    p: {
      readonly count: number;
      readonly day: number;
      readonly comfortableMs: number;
      readonly rows: number;
    },
    { clock, day }: Formats,
  ) =>
    `Made round ${clock(p.comfortableMs)}, which half of their ${p.count} comfortable holds since ${day(p.day)} lasted or less, with ${p.rows} rows as they usually do.`,
  'table.ofOwnHoldsAndRecovery': (
    p: {
      readonly count: number;
      readonly day: number;
      readonly comfortableMs: number;
      readonly rows: number;
      readonly backSeconds: number;
    },
    { clock, day }: Formats,
  ) =>
    `Made round ${clock(p.comfortableMs)}, which half of their ${p.count} comfortable holds since ${day(p.day)} lasted or less, with ${p.rows} rows as they usually do, and recoveries longer than the ${p.backSeconds} s after which saturation and heart rate were back nine times of ten.`,
  'table.shortened': (
    p: { readonly why: string; readonly toMs: number; readonly floorPercent: number },
    { clock, number }: Formats,
  ) =>
    `${p.why} By the model of their saturation that would come near the floor of ${number(p.floorPercent)}\u202f%, so it was shortened to ${clock(p.toMs)}.`,

  'entry.walkAlone':
    'A maximal walk alone: a faint while walking is a fall with nobody to help. Have someone beside you, on soft level ground, or walk to a length set before.',
  'entry.holdAlone': 'A maximal hold alone: have someone in the room who watches and knows what to do.',
  'entry.inWaterOneBreath':
    'On one breath in water: your buddy watches you and nothing else, within reach, and for at least 30 s after you surface.',
};
