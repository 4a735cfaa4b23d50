// The frame's words for alarms, in English: the bar itself, and the alarms of the watching.

import type { SupervisionCause } from '../../shared/schema-parts.ts';
import type { SupervisionAlarm } from '../../shared/views.ts';

export const enAlarms = {
  /** Before the view's own title, and said to a screen reader. */
  tab: (title: string, view: string) => `\u25b2 ${title} \u2013 ${view}`,
  of: (name: string, title: string) => `${name}: ${title}`,
  everyone: 'All athletes',
  goTo: (name: string) => `Go to ${name}`,
  key: 'Key',
  keyHelp: 'acknowledges the first alarm shown, on every page',
  over: (title: string) => `Over: ${title}`,
  answers: 'They answer',
  iAmWell: 'I am well',
  answerTitle: 'Answer needed',
  unsureTitle: 'Breathing not certain',
  quietHere: 'Quiet on this page',
  reading: (percent: string) => `Reads ${percent}\u202f%`,
  /** Before the titles of alarms that are folded into one line. */
  others: (count: number) => (count === 1 ? '1 more:' : `${count} more:`),
  unfold: 'Show',
  fold: 'Fold',
  goOn: (names: string) => `Go on watching ${names}`,
  recording: 'Open the recording',
  title: {
    monitoringStopped: (time: string) => `Monitoring stopped at ${time}`,
    monitoringGap: (time: string, duration: string) =>
      `Watched again since ${time}, after a gap of ${duration}`,
    clockChanged: (time: string) => `The computer\u2019s clock was changed at ${time}`,
    deviceDropped: () => 'A device was dropped',
    outputFailed: () => 'An alarm output fails',
    recordingFails: () => 'The recording fails',
    signalsExchanged: () => 'Sensors exchanged?',
    roomSilent: (time: string) => `A room has been silent since ${time}`,
  } satisfies Record<SupervisionAlarm['kind'], (time: string, duration: string) => string>,
  everybody: 'the athletes',
  aDevice: 'A joined device',
  /** `whom` by name; `cause` is a sentence. */
  stopped: (whom: string, cause: string) => `Nobody has watched ${whom} since. ${cause}`,
  /** `cause` is a clause. */
  gap: (whom: string, duration: string, cause: string) =>
    `Nobody watched ${whom} for ${duration}: ${cause}. It watches again now.`,
  clock: (duration: string) => `By ${duration}. Monitoring went on; times of day in this recording are off.`,
  dropped: (device: string) =>
    `${device} may no longer watch: its time ran out. No alarm is shown or sounds there.`,
  output: (name: string, reason: string) => `The ${name} does not work: ${reason}.`,
  /** `names` of two. */
  exchanged: (names: string) =>
    `For a minute the straps and oximeters of ${names} have matched crosswise: each strap beats with the other\u2019s oximeter. One\u2019s alarms may be the other\u2019s.`,
  silentRoom: (room: string) =>
    `Nothing is heard from the hub of ${room}, and a session was running there. Its alarms may still sound in the room; here none is shown.`,
  recordingGoesOn: (reason: string) => `Monitoring goes on, and the hub keeps trying. ${reason}`,
  cause: {
    hubDied: 'The hub ended without warning; what was recorded is kept.',
    hubStopped: 'The hub was stopped while the session ran.',
    diskFault: 'The disk failed.',
    slept: 'The computer slept.',
    hubStalled: 'The hub stood still.',
    unknown: 'The hub no longer runs the session.',
  } satisfies Record<SupervisionCause | 'unknown', string>,
  gapCause: {
    hubDied: 'the hub ended without warning and has taken the session up again',
    hubStopped: 'the hub was stopped and has taken the session up again',
    diskFault: 'the disk failed',
    slept: 'the computer slept',
    hubStalled: 'the hub stood still',
    unknown: 'the hub was away',
  } satisfies Record<SupervisionCause | 'unknown', string>,
  endSession: 'End the session',
  todo: {
    monitoringStopped: 'See that they are well. Then go on, or acknowledge.',
    monitoringGap: 'See that they are well, then acknowledge.',
    clockChanged: 'Set the clock right after the session.',
    deviceDropped: 'See to whoever lies beside it; join it again under Devices.',
    outputFailed: 'Put it right, or keep a page with sound where someone hears it.',
    recordingFails: 'See to the disk: free some space, or make it writable again.',
    roomSilent: 'Go there, or call somebody who is in the room.',
    signalsExchanged: 'Look whose clip and strap are whose, and put it right under People and sensors.',
  } satisfies Record<SupervisionAlarm['kind'], string>,
};
