// The words of every alarm in English: one sentence for what happened and one for what to do now. Plain, short, no jargon.
// One table by kind and state (present, or passed and waiting for someone), made from the alarm's codes and numbers.

import type { AlarmDetail, AlarmKind, AlarmPriority, AlarmSubject } from '../schema-parts.ts';
import { clockText } from './formats.ts';

/** What the words are made from: an alarm of the core, or as a page or a recording has it. Absent is null or undefined. */
export interface AlarmFacts {
  readonly kind: AlarmKind;
  readonly priority: AlarmPriority;
  readonly raisedAtMs: number;
  readonly conditionPresent: boolean;
  readonly timesPresent: number;
  readonly passedAtMs?: number | null | undefined;
  readonly value?: number | null | undefined;
  readonly worstValue?: number | null | undefined;
  readonly limit?: number | null | undefined;
  readonly likely?: { readonly lowPercent: number; readonly highPercent: number } | null | undefined;
  readonly subject?: AlarmSubject | null | undefined;
  readonly sensorId?: string | null | undefined;
  readonly detail?: AlarmDetail | null | undefined;
  readonly holdNear: boolean;
}

export interface AlarmText {
  readonly message: string;
  readonly instruction: string;
}

interface StateWords {
  readonly message: (alarm: AlarmFacts) => string;
  readonly instruction: (alarm: AlarmFacts) => string;
}

/** Message and instruction for one alarm as it stands. */
export function alarmTextInEnglish(alarm: AlarmFacts): AlarmText {
  const { present, passed } = table[alarm.kind];
  const words = alarm.conditionPresent ? present : (passed ?? present);
  return { message: words.message(alarm), instruction: words.instruction(alarm) };
}

const stopAndCheck =
  'Stop and breathe now. Someone check on them: if they do not respond, call the emergency number and give first aid.';
const stopBecauseBlind =
  'Stop and breathe: nothing is watching saturation. Someone check on them; then put the sensor right.';
const seeThatTheyAreWell =
  'See that they are well: awake, breathing, answering. If they do not respond, call the emergency number. Then acknowledge.';

type Maybe = number | null | undefined;
const percent = (value: Maybe): string => `${tenth(value)}\u202f%`;
const perMinute = (value: Maybe): string => `${whole(value)}\u202f/min`;
const seconds = (ms: Maybe): string =>
  `${whole(ms === undefined || ms === null ? undefined : ms / 1000)}\u202fs`;
const whole = (value: Maybe): string =>
  value === undefined || value === null ? '?' : String(Math.round(value));
const tenth = (value: Maybe): string =>
  value === undefined || value === null ? '?' : String(Math.round(value * 10) / 10);
/** A length of time: "2:30", from an hour "1:02:30". */
const clock = (ms: Maybe): string => (ms === undefined || ms === null ? '?' : clockText(ms));
/** A time of the session, as every list of its events says it: in seconds that are over. */
const at = (ms: Maybe): string => clock(ms === undefined || ms === null ? ms : Math.floor(ms / 1000) * 1000);

const subjectWords: Readonly<Record<AlarmSubject, string>> = {
  oximeter: 'oximeter',
  heartRateSensor: 'heart rate sensor',
  breathingSensor: 'breathing sensor',
  sensor: 'sensor',
};
const subjectOf = ({ subject, sensorId }: AlarmFacts): string =>
  `${subjectWords[subject ?? 'sensor']}${sensorId === undefined || sensorId === null ? '' : ` ${sensorId}`}`;

/** "from 3:57 to 4:40", or "3 times between 3:57 and 9:12". */
const whenPresent = ({ raisedAtMs, passedAtMs, timesPresent }: AlarmFacts): string =>
  timesPresent > 1
    ? `${timesPresent} times between ${at(raisedAtMs)} and ${at(passedAtMs)}`
    : `from ${at(raisedAtMs)} to ${at(passedAtMs)}`;
const isWorse = ({ value, worstValue }: AlarmFacts): boolean =>
  worstValue !== undefined && worstValue !== null && worstValue !== value;

/** One of several oximeters (then it is named) that is less than high: another one still watches. */
const blindWords = ({ sensorId, priority }: AlarmFacts): string =>
  sensorId !== undefined && sensorId !== null && priority !== 'high'
    ? 'Another oximeter still watches. Someone watch them closely, then put this one right.'
    : stopBecauseBlind;

/** A breathing sensor says when a hold begins and ends; saturation is watched without it. */
const withoutBreathing = (alarm: AlarmFacts): string =>
  alarm.holdNear
    ? `Someone watch them closely and mark the end of the hold: it may not be noticed by itself. Then put the ${subjectOf(alarm)} right.`
    : `Put the ${subjectOf(alarm)} right, or mark each hold by hand. Until then heartbeats alone show holds, and without a strap nothing does.`;

const doubtWords = ({ detail }: AlarmFacts): string =>
  detail === 'fellTooFast'
    ? ' It fell there faster than blood can, so a moved finger is possible: act on it all the same.'
    : detail === 'doubtful'
      ? ' The oximeter itself doubts its signal: act on it all the same.'
      : '';

const table: Readonly<Record<AlarmKind, { readonly present: StateWords; readonly passed?: StateWords }>> = {
  floorBreached: {
    present: {
      message: (alarm) =>
        `Saturation fell below the floor of ${percent(alarm.limit)}: it read ${percent(alarm.value)}` +
        `${isWorse(alarm) ? `, lowest so far ${percent(alarm.worstValue)}` : ''}.${doubtWords(alarm)}`,
      instruction: () => stopAndCheck,
    },
    passed: {
      message: (alarm) =>
        `Saturation was below the floor of ${percent(alarm.limit)} ${whenPresent(alarm)}: it read ` +
        `${percent(alarm.value)}${isWorse(alarm) ? `, lowest ${percent(alarm.worstValue)}` : ''}.`,
      instruction: () => seeThatTheyAreWell,
    },
  },
  floorForecast: {
    present: {
      message: ({ value, limit, likely }) =>
        `If breathing starts now, the lowest reading is expected near ${whole(value)}\u202f%` +
        (likely === undefined || likely === null
          ? ''
          : ` (likely ${whole(likely.lowPercent)} to ${whole(likely.highPercent)}\u202f%)`) +
        `; the floor is ${percent(limit)}.` +
        // The alarm comes by risk, so that the expected value alone can lie above the floor.
        (likely !== undefined && likely !== null && value! >= limit!
          ? ' The risk of going below it is no longer small.'
          : ''),
      instruction: ({ detail }) =>
        `Breathe now, while the reading is above the floor.${
          detail === 'lungsUnsaid'
            ? ' Nobody said how full the lungs are, so it reckons with emptied ones; say it before the next hold.'
            : ''
        }`,
    },
  },
  heartRateSuddenFall: {
    present: {
      message: (alarm) =>
        `Heart rate fell suddenly to ${perMinute(alarm.value)}` +
        `${isWorse(alarm) ? `, lowest so far ${perMinute(alarm.worstValue)}` : ''}.`,
      instruction: () => `${stopAndCheck} Keep them lying down.`,
    },
    passed: {
      message: (alarm) =>
        `Heart rate had fallen suddenly ${whenPresent(alarm)}: it read ${perMinute(alarm.value)}` +
        `${isWorse(alarm) ? `, lowest ${perMinute(alarm.worstValue)}` : ''}.`,
      instruction: () => seeThatTheyAreWell,
    },
  },
  heartRateLow: {
    present: {
      message: (alarm) =>
        `Heart rate is below the limit of ${perMinute(alarm.limit)}: it read ${perMinute(alarm.value)}` +
        `${isWorse(alarm) ? `, lowest so far ${perMinute(alarm.worstValue)}` : ''}.`,
      instruction: ({ holdNear }) =>
        holdNear
          ? 'Stop and breathe. Someone check on them; if they do not respond, call the emergency number.'
          : 'Check on them and check the sensor; do not start a hold.',
    },
  },
  heartRateHigh: {
    present: {
      message: (alarm) =>
        `Heart rate is above the limit of ${perMinute(alarm.limit)}: it read ${perMinute(alarm.value)}` +
        `${isWorse(alarm) ? `, highest so far ${perMinute(alarm.worstValue)}` : ''}.`,
      instruction: ({ holdNear }) =>
        holdNear
          ? 'Stop and breathe. Someone check on them.'
          : 'Rest and check the sensor; do not start a hold.',
    },
  },
  saturationNotRecovering: {
    present: {
      message: ({ value, limit }) =>
        `Saturation still read ${percent(value)} a minute after the hold; ${percent(limit)} was expected by then.`,
      instruction: () =>
        'Check on them: are they awake and breathing? If they do not respond, call the emergency number. No further hold.',
    },
  },
  noBreathingSign: {
    present: {
      message: ({ value, detail }) =>
        detail === 'breathingUnsure'
          ? `The alarm to stop came ${seconds(value)} ago. The signals look like breathing, but saturation does not bear it out yet.`
          : `No sign of breathing for ${seconds(value)} since the alarm to stop.`,
      instruction: ({ detail }) =>
        detail === 'answerAsked'
          ? 'Are you well? Breathe, then say so by a tap, or have someone by you do it.'
          : 'Go to them now: speak, tap the face, open the airway. If they do not respond, call the emergency number and give first aid.',
    },
  },
  sensorLost: {
    present: {
      message: (alarm) =>
        alarm.detail === 'noOximeter'
          ? 'No oximeter is connected: nothing watches saturation in this hold.'
          : `The ${subjectOf(alarm)} is lost: no readings arrive.`,
      instruction: (alarm) =>
        alarm.subject === 'breathingSensor'
          ? withoutBreathing(alarm)
          : alarm.subject === 'oximeter' && alarm.holdNear
            ? blindWords(alarm)
            : alarm.holdNear
              ? `Someone watch them closely; end the hold if in doubt, then put the ${subjectOf(alarm)} right.`
              : `Check that the ${subjectOf(alarm)} is on, worn and near; do not start a hold without it.`,
    },
  },
  saturationNeverRead: {
    present: {
      message: () => 'No saturation has been read since the session began.',
      instruction: ({ priority }) =>
        priority === 'low'
          ? 'Check that the oximeter is on, near and seated on a warm, still finger; do not start a hold until it reads.'
          : stopBecauseBlind,
    },
  },
  readingsStale: {
    present: {
      message: (alarm) =>
        `No new reading from the ${subjectOf(alarm)} for ${seconds(alarm.value)}: the number shown is old.`,
      instruction: (alarm) =>
        alarm.holdNear
          ? 'Someone watch them closely; stop and breathe if readings do not come back at once.'
          : `Check the ${subjectOf(alarm)}; do not start a hold without it.`,
    },
  },
  readingsImplausible: {
    present: {
      message: (alarm) => `Readings of the ${subjectOf(alarm)} cannot be right, so they are not used.`,
      instruction: (alarm) =>
        alarm.holdNear
          ? blindWords(alarm)
          : `Keep the hand still and put the ${subjectOf(alarm)} on again; do not start a hold until it reads steadily.`,
    },
  },
  readingsFrozen: {
    present: {
      message: (alarm) =>
        `The ${subjectOf(alarm)} has shown exactly the same for more than ${seconds(alarm.value)}: its display may have stopped.`,
      instruction: (alarm) => blindWords(alarm),
    },
  },
  signalPoor: {
    present: {
      message: (alarm) =>
        alarm.subject === 'breathingSensor'
          ? `The ${subjectOf(alarm)} does not seem to be on the body: what it sends is not used.`
          : alarm.detail === 'noContact'
            ? `The ${subjectOf(alarm)} is not on the finger: it gives no reading.`
            : alarm.detail === 'unusable'
              ? `The ${subjectOf(alarm)} gives no usable reading: the signal is too poor.`
              : alarm.detail === 'doubtful'
                ? `The readings of the ${subjectOf(alarm)} are doubtful: the signal is weak or the hand moves.`
                : `The ${subjectOf(alarm)} has a poor signal or no contact.`,
      instruction: (alarm) =>
        alarm.subject === 'breathingSensor'
          ? withoutBreathing(alarm)
          : alarm.holdNear && alarm.priority !== 'low' && alarm.subject === 'oximeter'
            ? blindWords(alarm)
            : alarm.subject === 'oximeter'
              ? `Warm the hand, keep it still and put the ${subjectOf(alarm)} on again.`
              : `Wet the ${subjectOf(alarm)} and put it on again.`,
    },
  },
  pageUnresponsive: {
    present: {
      message: ({ detail }) =>
        detail === 'noSound'
          ? 'No page has its alarm sound switched on: an alarm here might not be heard.'
          : 'No page is answering: an alarm here might not be seen or heard.',
      instruction: ({ holdNear, priority }) =>
        !holdNear
          ? 'Open the page and switch its sound on before anyone starts a hold.'
          : priority === 'high'
            ? 'Stop and breathe, then open the page again and switch its sound on.'
            : 'Switch the sound on now, or have someone keep their eyes on the page until the hold is over.',
    },
  },
  batteryLow: {
    present: {
      message: (alarm) => `Battery of ${subjectOf(alarm)} is at ${whole(alarm.value)}\u202f%.`,
      instruction: () => 'Charge or change it before the next hold.',
    },
  },
  maxDuration: {
    present: {
      message: ({ limit }) => `The hold has reached ${clock(limit)}, the longest you allowed.`,
      instruction: () => 'Stop and breathe.',
    },
  },
};
