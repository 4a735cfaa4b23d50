// The words of every alarm: one sentence for what happened and one for what to do now. Plain, short, no jargon.

import type { AlarmKind, AlarmPriority } from '../../shared/schema-parts.ts';

/** What a text may need to say; `value` in the kind's unit (%, /min, ms). */
export interface AlarmTextInput {
  readonly kind: AlarmKind;
  readonly priority: AlarmPriority;
  readonly value?: number;
  readonly limit?: number;
  /** Which measure or device it is about: "oximeter", "heart rate strap", a sensor's id. */
  readonly subject?: string;
  /** True during a hold and in the minute after it. */
  readonly holdNear: boolean;
  readonly detail?: string;
  /** Beside an expected value: where it lies in four of five cases. */
  readonly likely?: { readonly lowPercent: number; readonly highPercent: number };
}

export interface AlarmText {
  readonly message: string;
  readonly instruction: string;
}

const stopAndCheck =
  'Stop and breathe now. Someone check on them: if they do not respond, call the emergency number and give first aid.';
const stopBecauseBlind =
  'Stop and breathe: nothing is watching saturation. Someone check on them; then put the sensor right.';

const whole = (value: number | undefined): string => (value === undefined ? '?' : String(Math.round(value)));
const tenth = (value: number | undefined): string =>
  value === undefined ? '?' : String(Math.round(value * 10) / 10);
const minutes = (ms: number | undefined): string => {
  if (ms === undefined) return '?';
  const seconds = Math.round(ms / 1000);
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, '0')}`;
};

/** Message and instruction for one alarm. */
export function alarmText(input: AlarmTextInput): AlarmText {
  const { kind, value, limit, holdNear, likely } = input;
  const subject = input.subject ?? 'sensor';
  switch (kind) {
    case 'floorBreached':
      return {
        message: `Saturation reads ${tenth(value)}\u202f%, below the floor of ${tenth(limit)}\u202f%.`,
        instruction: stopAndCheck,
      };
    case 'floorForecast':
      return {
        message:
          `If breathing starts now, the lowest reading is expected near ${whole(value)}\u202f%` +
          (likely === undefined
            ? ''
            : ` (likely ${whole(likely.lowPercent)} to ${whole(likely.highPercent)}\u202f%)`) +
          `; the floor is ${tenth(limit)}\u202f%.` +
          // The alarm comes by risk, so that the expected value alone can lie above the floor.
          (likely !== undefined && value! >= limit! ? ' The risk of going below it is no longer small.' : ''),
        instruction: 'Stop and breathe now. Someone stay with them until saturation is back.',
      };
    case 'heartRateSuddenFall':
      return {
        message: `Heart rate fell suddenly to ${whole(value)}\u202f/min.`,
        instruction: `${stopAndCheck} Keep them lying down.`,
      };
    case 'heartRateLow':
      return {
        message: `Heart rate is ${whole(value)}\u202f/min, below the limit of ${whole(limit)}\u202f/min.`,
        instruction: holdNear
          ? 'Stop and breathe. Someone check on them; if they do not respond, call the emergency number.'
          : 'Check on them and check the sensor; do not start a hold.',
      };
    case 'heartRateHigh':
      return {
        message: `Heart rate is ${whole(value)}\u202f/min, above the limit of ${whole(limit)}\u202f/min.`,
        instruction: holdNear
          ? 'Stop and breathe. Someone check on them.'
          : 'Rest and check the sensor; do not start a hold.',
      };
    case 'saturationNotRecovering':
      return {
        message: `Saturation still reads ${tenth(value)}\u202f% a minute after the hold; ${tenth(limit)}\u202f% was expected by now.`,
        instruction:
          'Check on them: are they awake and breathing? If they do not respond, call the emergency number. No further hold.',
      };
    case 'noBreathingSign':
      return {
        message: `No sign of breathing for ${whole(value === undefined ? undefined : value / 1000)}\u202fs since the alarm to stop.`,
        instruction:
          'Go to them now: speak, tap the face, open the airway. If they do not respond, call the emergency number and give first aid.',
      };
    case 'sensorLost':
      return {
        message: input.detail ?? `The ${subject} is lost: no readings arrive.`,
        instruction:
          subject === 'oximeter' && holdNear
            ? stopBecauseBlind
            : holdNear
              ? `Someone watch them closely; end the hold if in doubt, then put the ${subject} right.`
              : `Check that the ${subject} is on, worn and near; do not start a hold without it.`,
      };
    case 'readingsStale':
      return {
        message: `No new reading from the ${subject} for ${whole(value === undefined ? undefined : value / 1000)}\u202fs: the number shown is old.`,
        instruction: holdNear
          ? 'Someone watch them closely; stop and breathe if readings do not come back at once.'
          : `Check the ${subject}; do not start a hold without it.`,
      };
    case 'readingsImplausible':
      return {
        message: input.detail ?? `Readings of the ${subject} cannot be right, so they are not used.`,
        instruction: holdNear
          ? stopBecauseBlind
          : `Keep the hand still and seat the ${subject} anew; do not start a hold until it reads steadily.`,
      };
    case 'signalPoor':
      return {
        message: input.detail ?? `The ${subject} has a poor signal or no contact.`,
        instruction:
          holdNear && input.priority !== 'low'
            ? stopBecauseBlind
            : `Warm the hand, keep it still and seat the ${subject} anew.`,
      };
    case 'pageUnresponsive':
      return {
        message:
          input.detail ?? 'No page that can sound an alarm is answering: an alarm here might not be heard.',
        instruction: holdNear
          ? input.priority === 'high'
            ? 'Stop and breathe, then open the page again and switch its sound on.'
            : 'Switch the sound on now, or have someone keep their eyes on the page until the hold is over.'
          : 'Open the page and switch its sound on before anyone starts a hold.',
      };
    case 'batteryLow':
      return {
        message: `Battery of ${subject} is at ${whole(value)}\u202f%.`,
        instruction: 'Charge or change it before the next hold.',
      };
    case 'maxDuration':
      return {
        message: `The hold has reached ${minutes(limit)}, the longest you allowed.`,
        instruction: 'Stop and breathe.',
      };
  }
}
