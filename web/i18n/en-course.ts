// A course's words in English: people and sensors of a running session.

import type { AthleteRecording } from '../../shared/http.ts';

export const enCourse = {
  /** Lines of a recording's events. `by` names a device, empty for the hub's own machine. */
  change: {
    joined: () => 'Came to the session',
    left: () => 'Left the session',
    sensorGiven: (sensor: string) => `Wears ${sensor} from here on`,
    sensorTaken: (sensor: string) => `No longer wears ${sensor}`,
  } satisfies Record<AthleteRecording['changes'][number]['change'], (sensor: string) => string>,
  changeBy: (device: string) => `by ${device}`,
  changeByHub: 'by the hub\u2019s own machine',
  people: {
    nav: 'People',
    title: 'People and sensors',
    none: 'No session is running. Sensors can be given to people here, and when you set one up.',
    inSession: 'In the session',
    noSensors: 'no sensor',
    leaves: 'Leaves the session',
    leavesTitle: (name: string) => `${name} leaves?`,
    leavesText:
      'Nobody watches them from then on: no reading, no recording, no alarm. Alarms of theirs end with a record. They can come back.',
    holdsNow: (name: string) =>
      `${name} is holding or recovering now. Wait until they breathe and have recovered.`,
    leavesConfirm: 'Leaves',
    later: 'Comes later',
    laterWho: 'Who comes',
    laterNobody: 'Choose',
    laterNone: 'Everybody on this hub is in the session. Add others under Session, before or after it.',
    joins: 'Comes to the session',
    joinsHelp: 'They are watched and recorded from then on.',
    sensors: 'Who wears which sensor',
    sensorsHelp:
      'A sensor can change hands while the session runs: what it read before stays with whoever wore it, what it reads from then on goes to the other. The recording says who changed it and when.',
    exchanged: (one: string, other: string) => `The signals of ${one} and ${other} look exchanged`,
    exchangedHelp:
      'Either the finger clips or the straps went to the wrong one. Look at them. If you cannot tell, ask one of them below.',
    exchange: { oximeter: 'The clips are exchanged', heartRate: 'The straps are exchanged' },
    whose: 'Whose is this?',
    whoseHelp:
      'Ask one person, and watch which sensor answers. Not in a hold. In a session this can raise an alarm of theirs: that is as it should be.',
    whoseWho: 'Whom you ask',
    whoseAsk: 'Ask now',
    whoseAgain: 'Ask again',
    whoseSay: (name: string) =>
      `Say to ${name}: take the finger out of the clip, and hold the strap off the skin. Count to ten. Put both back.`,
    whoseWaiting: 'Nothing has answered yet.',
    whoseOver: 'The asking is over. Nothing answered: ask again, and for longer.',
    whoseSeveral: 'More than one answered. Let everybody else keep still and ask again.',
    whoseGive: (sensor: string, name: string) => `${sensor} is ${name}\u2019s`,
    whoseRight: (sensor: string, name: string) => `${sensor} answered: it is given to ${name} already.`,
    whoseWrong: (sensor: string, wearer: string) => `${sensor} answered. It is given to ${wearer}.`,
    whoseNobody: (sensor: string) => `${sensor} answered. It is given to nobody.`,
    answer: {
      unheard: 'not read yet',
      steady: 'reads on',
      silent: 'has stopped',
      answered: 'answered',
    },
  },
};
