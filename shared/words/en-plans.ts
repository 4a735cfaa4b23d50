// Plans in English: names of steps, what a plan is, its warnings, suggestions, cues, and faults of a plan file.

import type { Formats } from './formats.ts';
import { lengthText } from './lengths.ts';

export interface Numbered {
  readonly number: number;
}
export interface Crossing {
  /** The first hold that would cross. */
  readonly label: string;
  /** How many others would. */
  readonly moreCount: number;
  readonly floorPercent: number;
  readonly lowestPercent: number;
}
export interface Rule {
  /** The rule itself, as `plan.minimum.rule` words it. */
  readonly rule: string;
}

const holds = (count: number) => `${count} ${count === 1 ? 'hold' : 'holds'}`;
const maximalHolds = (count: number) =>
  count === 1 ? 'one maximal hold' : count === 2 ? 'two maximal holds' : `${count} maximal holds`;
const which = ({ label, moreCount }: Crossing) =>
  moreCount === 0 ? label : `${label} and ${moreCount} more`;
const whatHoldsMeans = 'Every length is the most a hold may be; stop whenever you like.';

export const planWordsInEnglish = {
  'plan.step.hold': ({ number }: Numbered) => `Hold ${number}`,
  'plan.step.warmUp': ({ number }: Numbered) => `Warm-up ${number}`,
  'plan.step.maximal': ({ number }: Numbered) => `Maximal hold ${number}`,
  'plan.step.round': ({ number }: Numbered) => `Round ${number}`,
  'plan.step.repetition': ({ number }: Numbered) => `Repetition ${number}`,
  'plan.step.swim': 'Swim',
  'plan.step.added': ({ number }: Numbered) => `Added ${number}`,
  'plan.step.outside': ({ number }: Numbered) => `Outside the plan ${number}`,

  'plan.warning.recoveryShort': (
    p: {
      readonly label: string;
      readonly effortMs: number;
      readonly plannedMs: number;
      readonly minimumMs: number;
    },
    { clock }: Formats,
  ) =>
    `${p.label} up to ${clock(p.effortMs)} would leave ${clock(p.plannedMs)} of recovery; at least ${clock(p.minimumMs)} is kept, so later starts will move.`,
  'plan.warning.intervalShort': (
    p: { readonly everyMs: number; readonly leastMs: number },
    { clock }: Formats,
  ) =>
    `The interval of ${clock(p.everyMs)} is shorter than the least recovery of ${clock(p.leastMs)}; starts will move.`,
  'plan.warning.floorLikely': (p: Crossing, { number }: Formats) =>
    `${which(p)} would likely go below the floor of ${number(p.floorPercent)}\u202f% (about ${number(p.lowestPercent)}\u202f%).`,
  'plan.warning.floorPossible': (p: Crossing, { number }: Formats) =>
    `${which(p)} could go below the floor of ${number(p.floorPercent)}\u202f% (about ${number(p.lowestPercent)}\u202f% expected, with at least one chance in ten of going below).`,
  'plan.warning.maximalHold':
    'A maximal hold ends where comfort does. Lie down, dry, with a person beside you who watches and knows what to do if you faint. No hyperventilation. Leave it out if anything feels off.',
  'plan.warning.twoMaximal':
    'Two maximal holds in one session is a lot. The second can be left out at any time.',
  'plan.warning.walk':
    'Walking on one breath can end in a fall: level, soft ground, no edges, no water, no road, and a person beside you who watches and can catch you. Breathe at the first doubt.',
  'plan.warning.inWaterOneBreath':
    'In water: only with a trained buddy who watches you and nothing else, in a supervised pool, by local rules and your instructor. This program does not watch you in water.',
  'plan.warning.inWater':
    'In water: never alone, in a supervised pool and by local rules. This program does not watch you in water.',

  'plan.shape.intervalSeries': (
    p: { readonly starts: number; readonly everyMs: number },
    { clock }: Formats,
  ) =>
    `${p.starts} starts, one every ${clock(p.everyMs)}. You decide when each hold ends; the rest of the interval is recovery.`,
  'plan.shape.carbonDioxide': `Carbon-dioxide table: holds of one length, recoveries that shrink. ${whatHoldsMeans}`,
  'plan.shape.oxygen': `Oxygen table: recoveries of one length, holds that grow. ${whatHoldsMeans}`,
  'plan.shape.own': `A table of holds and recoveries. ${whatHoldsMeans}`,
  'plan.shape.maximalAttempts': (p: { readonly warmUps: number; readonly attempts: number }) =>
    `${p.warmUps} warm-up ${p.warmUps === 1 ? 'hold' : 'holds'}, then ${maximalHolds(p.attempts)}. You decide when each ends.`,
  'plan.shape.walkTime': (p: { readonly rounds: number; readonly ceilingMs: number }, { clock }: Formats) =>
    `${p.rounds} walks on one breath, up to ${clock(p.ceilingMs)} each.`,
  'plan.shape.walkSteps': (p: { readonly rounds: number; readonly steps: number }) =>
    `${p.rounds} walks on one breath, up to ${p.steps} steps each.`,
  'plan.shape.free': (p: { readonly lengthMs: number }, { clock }: Formats) =>
    `Holds whenever you like for ${clock(p.lengthMs)}.`,
  'plan.shape.pool': (
    p: {
      readonly repetitions: number;
      readonly distanceMeters: number;
      readonly everyMs: number;
      readonly onOneBreath: boolean;
    },
    { clock, number }: Formats,
  ) =>
    `${p.repetitions} times ${lengthText(p.distanceMeters, number)}, one every ${clock(p.everyMs)}, ${p.onOneBreath ? 'each on one breath' : 'breathing freely'}.`,
  'plan.shape.swim': (p: { readonly lengthMs: number }, { clock }: Formats) =>
    `Swim for ${clock(p.lengthMs)}, breathing freely, and count laps.`,

  'plan.title.intervalSeries': (
    p: { readonly starts: number; readonly everyMs: number },
    { clock }: Formats,
  ) => `${p.starts} starts, one every ${clock(p.everyMs)}`,
  'plan.title.carbonDioxide': (
    p: { readonly holds: number; readonly longestMs: number },
    { clock }: Formats,
  ) => `${holds(p.holds)} up to ${clock(p.longestMs)}, shrinking recovery`,
  'plan.title.oxygen': (p: { readonly holds: number; readonly longestMs: number }, { clock }: Formats) =>
    `${holds(p.holds)}, growing up to ${clock(p.longestMs)}`,
  'plan.title.own': (p: { readonly holds: number; readonly longestMs: number }, { clock }: Formats) =>
    `${holds(p.holds)} up to ${clock(p.longestMs)}`,
  'plan.title.maximalAttempts': (p: { readonly warmUps: number; readonly attempts: number }) =>
    `${p.warmUps} ${p.warmUps === 1 ? 'warm-up' : 'warm-ups'}, ${p.attempts === 1 ? 'one maximal hold' : `${p.attempts} maximal holds`}`,
  'plan.title.walkTime': (p: { readonly rounds: number; readonly ceilingMs: number }, { clock }: Formats) =>
    `${p.rounds} walks up to ${clock(p.ceilingMs)}`,
  'plan.title.walkSteps': (p: { readonly rounds: number; readonly steps: number }) =>
    `${p.rounds} walks up to ${p.steps} steps`,
  'plan.title.free': (p: { readonly minutes: number }) => `Free holds for ${p.minutes} minutes`,
  'plan.title.pool': (
    p: { readonly repetitions: number; readonly distanceMeters: number; readonly everyMs: number },
    { clock, number }: Formats,
  ) => `${p.repetitions} times ${lengthText(p.distanceMeters, number)}, one every ${clock(p.everyMs)}`,
  'plan.title.swim': (p: { readonly minutes: number }) => `${p.minutes}-minute distance swim`,

  'plan.effort.distance': (p: { readonly meters: number }, { number }: Formats) =>
    lengthText(p.meters, number),
  'plan.effort.steps': (p: { readonly steps: number }) => `up to ${p.steps} steps`,
  'plan.effort.withLungs': (p: { readonly effort: string; readonly lungs: string }) =>
    `${p.effort}, ${p.lungs}`,
  'plan.effort.open': 'you decide',
  'plan.effort.length': (p: { readonly lengthMs: number }, { clock }: Formats) => clock(p.lengthMs),
  'plan.effort.upTo': (p: { readonly ceilingMs: number }, { clock }: Formats) =>
    `up to ${clock(p.ceilingMs)}`,

  'plan.minimum.rule': (p: { readonly leastSeconds: number; readonly times: number }) =>
    `At least ${p.leastSeconds} s, and at least ${Math.abs(p.times - 1 / 3) < 0.001 ? 'a third of' : `${p.times} times`} the effort before it.`,
  'plan.minimum.own': (p: Rule) => `${p.rule} Set in this plan.`,
  'plan.minimum.dry': (p: Rule) =>
    `${p.rule} The lowest finger reading of a hold comes up to about 40 s after the first breath; starting sooner would be starting before it has been seen. A third of the hold is common practice, without a published source.`,
  'plan.minimum.double': (p: Rule) =>
    `${p.rule} Published guidance for breath-hold diving asks for at least twice the dive; it is used here for maximal holds and for moving on one breath as a careful choice.`,
  'plan.minimum.swim': (p: Rule) =>
    `${p.rule} This is swimming with breathing; rest as long as is comfortable.`,

  'plan.suggest.stopToday': 'Stop here for today.',
  'plan.suggest.calledOff':
    'A hold was called off. Rest, talk it over, and do not hold again before everyone is satisfied that all is well.',
  'plan.suggest.stopOrRest': 'Stop here, or rest as long as you like.',
  'plan.suggest.comfortWas': (p: { readonly comfort: number }) =>
    `The last hold was marked ${p.comfort} of 5 for comfort.`,
  'plan.suggest.moreRecovery': (p: { readonly seconds: number }) => `Plan ${p.seconds} s more recovery.`,
  'plan.suggest.notBack': 'Saturation or heart rate was not back near rest when the next start came.',
  'plan.suggest.lowerCeiling': (p: { readonly ceilingMs: number }, { clock }: Formats) =>
    `Plan the next holds up to ${clock(p.ceilingMs)}, or stop here.`,
  'plan.suggest.nearFloor': (
    p: { readonly lowestPercent: number; readonly floorPercent: number },
    { number }: Formats,
  ) =>
    `The lowest reading of the last hold was ${number(p.lowestPercent)} %, with the floor at ${number(p.floorPercent)} %. Saturation in the body may have been lower than a finger shows (Lindholm 2007, Aviat Space Environ Med 78:770-773).`,
  'plan.suggest.lengthenInterval': (p: { readonly everyMs: number }, { clock }: Formats) =>
    `Make the interval ${clock(p.everyMs)}.`,
  'plan.suggest.shortRecoveries': (p: { readonly short: number; readonly all: number }) =>
    `${p.short} of ${p.all} holds left about a minute or less of recovery.`,

  'plan.noEffect.moving':
    'There is no preview of saturation for walking or swimming: the model is of holds at rest.',
  'plan.noEffect.free': 'There is no preview for a free session: its holds are not known beforehand.',
  'plan.noEffect.lengthUnknown': 'There is no preview without the length of the longest hold.',
  'lungs.full': 'full lungs',
  'lungs.half': 'half-full lungs',
  'lungs.emptied': 'emptied lungs',
  'lungs.displayTooLate': (p: { readonly lungs: string; readonly breatheByMs: number }, { clock }: Formats) =>
    `On ${p.lungs} an oximeter on a finger shows the fall too late. Hold no longer than ${clock(p.breatheByMs)}, and less if anything feels off.`,
  'lungs.noHoldShortEnough': (p: { readonly lungs: string }) =>
    `On ${p.lungs} an oximeter on a finger shows the fall too late. No hold is short enough to stay above this floor.`,
  'plan.preview.ofPeople': 'Nothing is known of this athlete yet: the bands are those of people in general.',
  'plan.preview.ofAthlete': (p: { readonly holds: number }) =>
    `Fitted to ${p.holds} earlier ${p.holds === 1 ? 'hold' : 'holds'} of this athlete.`,
  'plan.preview.caution':
    'A calculation, not a measurement: breathing before a hold, movement and the day itself change it. It says what a plan stresses, not what anyone can do.',

  'cue.prepare': 'One minute to the next start. Breathe calmly.',
  'cue.countdown': 'Ten seconds.',
  'cue.tick': 'A moment.',
  'cue.start': 'Start when you are ready.',
  'cue.startSwim': 'Swim when you are ready.',
  'cue.ceilingNear': 'Ten seconds to the planned end. Breathe whenever you like.',
  'cue.breathe': 'Breathe now.',
  'cue.check': 'Breathe now. Buddy, check the athlete.',
  'cue.aborted': 'Breathe now. Buddy, check the athlete. Stopping here is suggested.',
  'cue.recover': 'Recover. Breathe calmly.',
  'cue.rest': 'Rest.',
  'cue.lastDone': 'That was the last one. Stay where you are for a minute.',
  'cue.moved': 'The next start waits.',
  'cue.replanned': 'The next start is planned again.',
  'cue.skipped': 'A start is left out.',
  'cue.minimumOver': 'The minimum recovery is over.',
  'cue.paused': 'Paused.',
  'cue.resumed': 'Going on.',
  'cue.back': 'The hub was away. Starts in between were left out.',
  'cue.timeUp': 'Time. Stop and rest.',
  'cue.finished': 'The plan is finished.',

  'calendar.caution':
    'Never alone: someone beside you watches, on dry land, away from water. Stop whenever you want to. Slackwater is not a medical device.',
  'planFile.tooLong': (p: { readonly characters: number; readonly most: number }) =>
    `The file is too long for a plan (${p.characters} characters; at most ${p.most}).`,
  'planFile.empty': 'The file is empty.',
  'planFile.tooDeep': 'The file is nested too deeply for a plan.',
  'planFile.notJson': 'This is not JSON: it cannot be read.',
  'planFile.notJsonAt': (p: { readonly fault: string }) =>
    `This is not JSON: ${p.fault.replace(/(?!^)([A-Z])/g, ' $1').toLowerCase()}.`,
  'planFile.notObject': 'A plan is a JSON object, in braces.',
  'planFile.unknownField': 'is not a field of this kind of plan',
  'json.missing': 'is missing',
  'json.atLeast': (p: { readonly least: number }) => `must be at least ${p.least}`,
  'json.atLeastEntries': (p: { readonly least: number }) => `must be at least ${p.least} entries long`,
  'json.atLeastCharacters': (p: { readonly least: number }) => `must be at least ${p.least} characters long`,
  'json.atMost': (p: { readonly most: number }) => `must be at most ${p.most}`,
  'json.atMostEntries': (p: { readonly most: number }) => `must be at most ${p.most} entries long`,
  'json.atMostCharacters': (p: { readonly most: number }) => `must be at most ${p.most} characters long`,
  'json.wholeNumber': 'must be a whole number',
  'json.text': 'must be a text in quotes',
  'json.list': 'must be a list in square brackets',
  'json.group': 'must be a group in braces',
  'json.kind': (p: { readonly kind: string }) => `must be a ${p.kind}`,
  'planFile.format': (p: { readonly format: string }) =>
    `must be "${p.format}"; this is another program's file`,
  'planFile.version': (p: { readonly versions: string }) =>
    `must be ${p.versions}; this file is of another version`,
  /** The values as they stand in the file, with commas between them. */
  'json.oneOf': (p: { readonly values: string }) => `must be one of ${p.values}`,
  'json.exactly': (p: { readonly value: string }) => `must be ${p.value}`,
  'json.noSuchKind': 'is not one of the kinds there are',
  'json.invalid': 'is not valid',
};
